"""What all pages share: how JSON is written, and a stylesheet that may not be built yet."""

from flask import Flask, current_app


def init_pages(app: Flask) -> None:
    """Set up templates and JSON."""
    app.json.sort_keys = False  # type: ignore[attr-defined]
    app.json.ensure_ascii = False  # type: ignore[attr-defined]
    app.json.compact = True  # type: ignore[attr-defined]
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    app.add_template_global(built, "built")


def built(name: str) -> str | None:
    """The address of a built file, None before the first build: pages must work without it."""
    try:
        address: str = current_app.jinja_env.globals["asset"](name)  # type: ignore[operator]
    except (KeyError, RuntimeError):
        return None
    return address
