"""The server of the engine's tests: the real application around a bench page in place of the app.

    python -m tests.browser.engine_server FOLDER PORT

FOLDER/built holds the bench. While FOLDER/portal exists, a captive portal answers everything asked from
outside; while FOLDER/off exists, the way-out worker is served. FOLDER/wanted.json may say which ids its
people and clients have. Trusted Types are enforced.
"""

import hashlib
import json
import shutil
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

from argon2 import PasswordHasher
from flask import Flask, Response, request
from werkzeug.serving import make_server

from tests.browser.live_server import ROOT
from webapp import create_app
from webapp.config import Settings
from webapp.storage import (
    Database,
    assign_caseload,
    create_client,
    create_organisation,
    create_user,
    passwords,
    upgrade,
)

SECRET = "an invented secret, for tests and for nothing else"
NAME, OTHER_NAME, PASSWORD = "ann@example.org", "ben@example.org", "correct horse battery"
CLIENTS = ("one", "two", "bens")


def build(folder: Path, mark: str = "") -> None:
    """Bundle the bench under a hashed name; another mark makes another version."""
    built = emptied(folder)
    bundle("engine_page.js", f"--banner:js=// {mark}", f"--outdir={built}", "--entry-names=app-[hash]")
    name_built(built)


def build_kept(folder: Path, kept: Path) -> None:
    """Put the store and engine that an earlier version left behind in the bench's place."""
    built = emptied(folder)
    mark = hashlib.sha256(kept.read_bytes()).hexdigest()[:8].upper()
    shutil.copyfile(kept, built / f"app-{mark}.js")
    name_built(built)


def emptied(folder: Path) -> Path:
    built = folder / "built"
    built.mkdir(parents=True, exist_ok=True)
    for old in built.glob("app-*"):
        old.unlink()
    return built


def bundle(page: str, *options: str) -> None:
    """Bundle one of the pages beside this file."""
    esbuild = ROOT / "static" / "node_modules" / ".bin" / "esbuild"
    source = ROOT / "tests" / "browser" / page
    subprocess.run([esbuild, source, "--bundle", "--format=esm", "--log-level=warning", *options], check=True)


def name_built(built: Path) -> None:
    (script,) = built.glob("app-*.js")
    (built / "app-AAAAAAAA.css").write_text("main { font: 1rem sans-serif }", "utf-8")
    names = {"app.js": script.name, "app.css": "app-AAAAAAAA.css"}
    (built / "manifest.json").write_text(json.dumps(names), "utf-8")


def fill(url: str, wanted: dict[str, str]) -> dict[str, str]:
    """Ann with two clients and Ben with one; the ids a test needs, those it wants or new ones."""
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
            id=wanted.get(who),
        )
        for name, who in ((NAME, "person"), (OTHER_NAME, "other"))
    )
    one, two, bens = (create_client(database, organisation, id=wanted.get(name)) for name in CLIENTS)
    since = datetime.now(UTC) - timedelta(days=30)
    assign_caseload(database, ann, [one, two], since=since)
    assign_caseload(database, ben, [bens], since=since)
    database.dispose()
    return {"person": ann.id, "other": ben.id, "one": one, "two": two, "bens": bens}


def application(folder: Path) -> Flask:
    """The real application with the bench built in, a portal and a switch for the worker."""
    url = f"sqlite:///{folder / 'lintel.sqlite3'}"
    if not (folder / "ids.json").exists():
        wanted = folder / "wanted.json"
        ids = fill(url, json.loads(wanted.read_text("utf-8")) if wanted.exists() else {})
        (folder / "ids.json").write_text(json.dumps(ids), "utf-8")
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
    # Argon2id at its cheapest: the tests sign in often and guard nothing.
    passwords.HASHER = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    make_server("127.0.0.1", int(port), application(Path(folder)), threaded=True).serve_forever()


if __name__ == "__main__":
    main(*sys.argv[1:])
