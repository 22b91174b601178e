"""What the service worker keeps for use without a network, with a hash of every answer.

The list is made by asking the application itself, so the hashes are those of the bytes a phone gets.
"""

import base64
import hashlib
import json
from pathlib import Path

from flask import Flask
from flask.testing import FlaskClient

from webapp.clinical import measure_order
from webapp.features.shell.assets import STATIC, built_folder, built_names, manifest_path

WORKER = STATIC / "service_worker.js"
WORKER_OFF = STATIC / "service_worker_off.js"
PLACEHOLDER = "self.__LINTEL = null;"
ICONS = STATIC / "icons"
PAGES = ("/app/", "/offline", "/manifest.webmanifest")


def precached_urls() -> list[str]:
    """Every address the app needs with no network: pages, built files, icons, the measures' forms."""
    built = [f"/built/{path.name}" for path in sorted(built_folder().iterdir()) if _kept(path)]
    icons = [f"/icons/{path.name}" for path in sorted(ICONS.glob("*")) if path.suffix in {".png", ".svg"}]
    return [*PAGES, *built, *icons, *(f"/forms/{measure}" for measure in measure_order)]


def _kept(path: Path) -> bool:
    return path.name != "manifest.json" and path.suffix != ".part"


def precache(app: Flask, base_url: str) -> dict:
    """The list with a version that changes when any byte of any file or page changes."""
    client = app.test_client()
    hashes = {url: _integrity(client, url, base_url) for url in precached_urls()}
    worker = hashlib.sha256(WORKER.read_bytes()).hexdigest()
    version = hashlib.sha256(json.dumps([worker, hashes], sort_keys=True).encode()).hexdigest()[:16]
    return {"version": version, "urls": hashes}


def _integrity(client: FlaskClient, url: str, base_url: str) -> str:
    with client.get(url, base_url=base_url) as answer:
        if answer.status_code != 200:
            raise RuntimeError(f"{url} is to be kept on the phone but answers {answer.status_code}")
        return "sha256-" + base64.b64encode(hashlib.sha256(answer.data).digest()).decode()


def worker_source(app: Flask, base_url: str) -> str:
    """The worker with its list in place; one made earlier is used until a source file changes."""
    known = app.extensions.setdefault("lintel_worker", {})
    stamp = _stamp()
    if known.get("stamp") != stamp:
        known.update(stamp=stamp, source=_fill_in(precache(app, base_url)))
    return known["source"]


def _fill_in(listing: dict) -> str:
    source = WORKER.read_text("utf-8")
    if source.count(PLACEHOLDER) != 1:
        raise RuntimeError("static/service_worker.js must hold the placeholder once")
    return source.replace(PLACEHOLDER, f"self.__LINTEL = {json.dumps(listing, sort_keys=True)};")


def _stamp() -> tuple:
    built_names()
    templates = Path(__file__).resolve().parents[2] / "templates"
    sources = [WORKER, manifest_path(), STATIC / "manifest.webmanifest"]
    for folder in (ICONS, templates):
        sources += sorted(path for path in folder.rglob("*") if path.is_file())
    return tuple((str(path), path.stat().st_mtime_ns) for path in sources)
