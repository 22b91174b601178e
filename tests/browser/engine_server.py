"""The server of the engine's tests: the real application around a bench page in place of the app.

    python -m tests.browser.engine_server FOLDER PORT

FOLDER/built holds the bench. While FOLDER/portal exists, a captive portal answers everything asked from
outside; while FOLDER/off exists, the way-out worker is served. Trusted Types are enforced.
"""

import json
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

from flask import Flask, Response, request
from werkzeug.serving import make_server

from tests.browser.live_server import ROOT
from webapp import create_app
from webapp.config import Settings
from webapp.storage import Database, assign_caseload, create_client, create_organisation, create_user, upgrade

SECRET = "an invented secret, for tests and for nothing else"
NAME, OTHER_NAME, PASSWORD = "ann@example.org", "ben@example.org", "correct horse battery"


def build(folder: Path, mark: str = "") -> None:
    """Bundle the bench under a hashed name; another mark makes another version."""
    built = folder / "built"
    built.mkdir(parents=True, exist_ok=True)
    esbuild = ROOT / "static" / "node_modules" / ".bin" / "esbuild"
    page = ROOT / "tests" / "browser" / "engine_page.js"
    for old in built.glob("app-*"):
        old.unlink()
    subprocess.run(
        [
            esbuild, page, "--bundle", "--format=esm", "--log-level=warning", f"--banner:js=// {mark}",
            f"--outdir={built}", "--entry-names=app-[hash]",
        ],
        check=True,
    )  # fmt: skip
    (script,) = built.glob("app-*.js")
    (built / "app-AAAAAAAA.css").write_text("main { font: 1rem sans-serif }", "utf-8")
    names = {"app.js": script.name, "app.css": "app-AAAAAAAA.css"}
    (built / "manifest.json").write_text(json.dumps(names), "utf-8")


def fill(url: str) -> dict[str, str]:
    """Ann with two clients and Ben with one; the ids a test needs."""
    upgrade(url)
    database = Database(url, SECRET)
    organisation = create_organisation(database, "Larkmere Home Therapy")
    ann, ben = (
        create_user(
            database,
            organisation,
            sign_in_name=name,
            role="therapist",
            display_name=f"{name.split('@')[0].title()} Example",
            password=PASSWORD,
        )
        for name in (NAME, OTHER_NAME)
    )
    one, two, bens = (create_client(database, organisation) for _ in range(3))
    since = datetime.now(UTC) - timedelta(days=30)
    assign_caseload(database, ann, [one, two], since=since)
    assign_caseload(database, ben, [bens], since=since)
    database.dispose()
    return {"person": ann.id, "other": ben.id, "one": one, "two": two, "bens": bens}


def application(folder: Path) -> Flask:
    """The real application with the bench built in, a portal and a switch for the worker."""
    url = f"sqlite:///{folder / 'lintel.sqlite3'}"
    if not (folder / "ids.json").exists():
        (folder / "ids.json").write_text(json.dumps(fill(url)), "utf-8")
    app = create_app(Settings(database_url=url, secret_key=SECRET, demo=True))
    app.config["BUILT_FOLDER"] = folder / "built"

    @app.before_request
    def portal_or_off() -> Response | None:
        app.config["SERVICE_WORKER"] = not (folder / "off").exists()
        outside = not request.user_agent.string.startswith("Werkzeug")
        if outside and (folder / "portal").exists() and request.path != "/service_worker.js":
            return Response("<h1>Welcome to the café</h1>", mimetype="text/html")
        return None

    return app


def main(folder: str, port: str) -> None:
    """Serve until killed."""
    make_server("127.0.0.1", int(port), application(Path(folder)), threaded=True).serve_forever()


if __name__ == "__main__":
    main(*sys.argv[1:])
