"""What the service worker keeps for use without a network, with a hash of every answer.

The list is made by asking the application itself, so the hashes are those of the bytes a phone gets.
"""
import base64
import hashlib
import json
from collections.abc import Iterator
from pathlib import Path

from flask import Flask

from webapp.features.shell.assets import BUILT, STATIC, asset, built_names

WORKER = STATIC / "service_worker.js"
WORKER_OFF = STATIC / "service_worker_off.js"
PLACEHOLDER = "self.__LINTEL = null;"
ICONS = STATIC / "icons"
MEASURES = STATIC / "clinical" / "measures"
PAGES = ("/app/", "/offline", "/manifest.webmanifest")


def precached_urls(app: Flask) -> list[str]:
    """Every address the app needs with no network: pages, built files, icons, the measures' forms."""
    built = [f"/built/{path.name}" for path in sorted(BUILT.iterdir()) if _kept(path)]
    icons = [f"/icons/{path.name}" for path in sorted(ICONS.glob("*")) if path.suffix in {".png", ".svg"}]
    return [*PAGES, *built, *icons, *_form_urls(app)]


def _kept(path: Path) -> bool:
    return path.name != "manifest.json" and path.suffix != ".part"


def _form_urls(app: Flask) -> Iterator[str]:
    if not any(rule.rule.startswith("/forms/") for rule in app.url_map.iter_rules()):
        return
    for path in sorted(MEASURES.glob("*.json")):
        yield f"/forms/{path.stem}"


def precache(app: Flask) -> dict:
    """The list with a version that changes when any byte of any file or page changes."""
    hashes = {url: _integrity(app, url) for url in precached_urls(app)}
    worker = hashlib.sha256(WORKER.read_bytes()).hexdigest()
    version = hashlib.sha256(json.dumps([worker, hashes], sort_keys=True).encode()).hexdigest()[:16]
    return {"version": version, "urls": hashes}


def _integrity(app: Flask, url: str) -> str:
    answer = app.test_client().get(url)
    if answer.status_code != 200:
        raise RuntimeError(f"{url} is to be kept on the phone but answers {answer.status_code}")
    return "sha256-" + base64.b64encode(hashlib.sha256(answer.data).digest()).decode()


def worker_source(app: Flask) -> str:
    """The worker with its list in place; one made earlier is used until a source file changes."""
    known = app.extensions.setdefault("lintel_worker", {})
    stamp = _stamp()
    if known.get("stamp") != stamp:
        known.update(stamp=stamp, source=_fill_in(precache(app)))
    return known["source"]


def _fill_in(listing: dict) -> str:
    source = WORKER.read_text("utf-8")
    if source.count(PLACEHOLDER) != 1:
        raise RuntimeError("static/service_worker.js must hold the placeholder once")
    return source.replace(PLACEHOLDER, f"self.__LINTEL = {json.dumps(listing, sort_keys=True)};")


def _stamp() -> tuple:
    built_names()
    templates = Path(__file__).resolve().parents[2] / "templates"
    sources = [WORKER, BUILT / "manifest.json", STATIC / "manifest.webmanifest"]
    for folder in (ICONS, STATIC / "clinical", MEASURES, templates, templates / "forms"):
        sources += sorted(path for path in folder.glob("*") if path.is_file())
    return tuple((str(path), path.stat().st_mtime_ns) for path in sources)


__all__ = ["asset", "precache", "precached_urls", "worker_source", "WORKER_OFF"]
