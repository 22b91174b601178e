"""The shell: one page for every view, lasting names, and a worker that changes with any byte it keeps."""

import base64
import hashlib
import json
import re
import struct
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from webapp import create_app
from webapp.clinical import measure_order
from webapp.config import Settings
from webapp.features.shell.assets import STATIC, is_hashed

# The forms are somebody else's subject; WTForms 3.3 has another word for a choice than 3.2 had.
SECRET = "an invented secret, for tests and for nothing else"


@pytest.fixture
def built(tmp_path: Path) -> Path:
    """A build of two files, so that these tests need no Node."""
    folder = tmp_path / "built"
    folder.mkdir()
    (folder / "app-AAAAAAAA.js").write_text("export {};", "utf-8")
    (folder / "app-BBBBBBBB.css").write_text("main { color: black }", "utf-8")
    names = {"app.js": "app-AAAAAAAA.js", "app.css": "app-BBBBBBBB.css"}
    (folder / "manifest.json").write_text(json.dumps(names), "utf-8")
    return folder


@pytest.fixture
def app(built: Path) -> Flask:
    app = create_app(Settings(database_url="sqlite://", secret_key=SECRET, demo=True))
    app.config["BUILT_FOLDER"] = built
    return app


class Client(FlaskClient):
    """Reads every answer to its end and closes it, files included."""

    def open(self, *args, **kwargs):
        answer = super().open(*args, **kwargs)
        answer.get_data()
        answer.close()
        return answer


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    return Client(app, app.response_class)


def listing(client: FlaskClient) -> dict:
    """What the worker says it keeps."""
    source = client.get("/service_worker.js").text
    return json.loads(re.search(r"^self\.__LINTEL = (\{.*\});$", source, re.M)[1])


def test_the_root_leads_to_the_app(client):
    answer = client.get("/")
    assert (answer.status_code, answer.location) == (302, "/app/")


@pytest.mark.parametrize(
    "path", ["/app/", "/app/caseload", "/app/visit/019ab9e8-3adb-7000-8000-000000000001"]
)
def test_every_view_is_the_same_page(client, path):
    answer = client.get(path)
    assert (answer.status_code, answer.mimetype) == (200, "text/html")
    assert answer.data == client.get("/app/").data
    assert answer.headers["Cache-Control"] == "no-cache"
    assert client.get(path, headers={"If-None-Match": answer.headers["ETag"]}).status_code == 304


def test_the_shell_holds_no_inline_code_and_names_the_built_files(client):
    page = client.get("/app/").text
    assert re.findall(r"<script[^>]*>(.*?)</script>", page, re.S) == [""]
    assert "<style" not in page and " style=" not in page and not re.search(r" on[a-z]+=", page)
    assert 'src="/built/app-AAAAAAAA.js"' in page and 'href="/built/app-BBBBBBBB.css"' in page
    assert "user-scalable" not in page and "maximum-scale" not in page


@pytest.mark.parametrize("path", ["/app/app.js", "/app/visit/x.css", "/built/none.js", "/icons/none.png",
                                  "/built/../app.js", "/icons/..%2fpackage.json"])  # fmt: skip
def test_a_missing_file_is_no_page(client, path):
    assert client.get(path).status_code == 404


def test_hashed_names_are_kept_for_ever_and_nothing_else_is(client):
    assert "immutable" in client.get("/built/app-AAAAAAAA.js").headers["Cache-Control"]
    for path in ("/built/manifest.json", "/icons/lintel.svg", "/manifest.webmanifest", "/service_worker.js"):
        assert client.get(path).headers["Cache-Control"] == "no-cache", path
    assert is_hashed("app-UCPY6OVJ.js") and not is_hashed("app.js") and not is_hashed("app-short.js")


def test_the_worker_keeps_each_page_file_and_form_with_the_hash_of_its_bytes(client, built):
    urls = listing(client)["urls"]
    assert {f"/forms/{measure}" for measure in measure_order} <= set(urls)
    assert {
        "/app/",
        "/offline",
        "/manifest.webmanifest",
        "/built/app-AAAAAAAA.js",
        "/icons/lintel.svg",
    } <= set(urls)
    assert "/built/manifest.json" not in urls
    assert not [url for url in urls if url.startswith(("/api", "/sign"))]
    for url, integrity in urls.items():
        digest = base64.b64encode(hashlib.sha256(client.get(url).data).digest()).decode()
        assert integrity == f"sha256-{digest}", url


def test_the_version_changes_with_any_kept_byte_and_only_then(app, client, built, monkeypatch):
    first = listing(client)["version"]
    assert listing(Client(app, app.response_class))["version"] == first
    (built / "app-BBBBBBBB.css").write_text("main { color: blue }", "utf-8")
    (built / "manifest.json").touch()
    second = listing(client)["version"]
    (built / "app-BBBBBBBB.css").write_text("main { color: black }", "utf-8")
    app.extensions["lintel_worker"].clear()
    assert second != first and listing(client)["version"] == first
    monkeypatch.setitem(app.view_functions, "visits.form_page", lambda measure_id: "<p>Another form</p>")
    app.extensions["lintel_worker"].clear()
    assert listing(client)["version"] != first, "a change of a form is a new version"


def test_a_listed_page_that_fails_makes_no_worker(app, client, monkeypatch):
    monkeypatch.setitem(app.view_functions, "visits.form_page", lambda measure_id: ("gone", 404))
    assert client.get("/service_worker.js").status_code == 500


def test_the_way_out_worker_is_served_instead_when_switched_so(app, client):
    app.config["SERVICE_WORKER"] = False
    source = client.get("/service_worker.js").text
    assert "__LINTEL" not in source and "addEventListener('fetch'" not in source


def test_the_worker_imports_nothing(client):
    source = client.get("/service_worker.js").text
    assert "importScripts" not in source and not re.search(r"^\s*import\b", source, re.M)
    assert client.get("/service_worker.js").mimetype == "text/javascript"


def test_the_manifest_is_installable_and_its_pictures_are_as_large_as_they_say(client):
    answer = client.get("/manifest.webmanifest")
    manifest = json.loads(answer.data)
    assert answer.mimetype == "application/manifest+json"
    assert (manifest["id"], manifest["start_url"], manifest["scope"]) == ("/", "/app/", "/")
    assert len(manifest["short_name"]) <= 12 and manifest["display"] == "standalone"
    pictures = manifest["icons"] + [icon for each in manifest["shortcuts"] for icon in each["icons"]]
    assert {(icon["sizes"], icon.get("purpose")) for icon in manifest["icons"]} == {
        ("192x192", "any"), ("512x512", "any"), ("512x512", "maskable")}  # fmt: skip
    for icon in pictures:
        data = client.get(icon["src"]).data
        assert "x".join(map(str, struct.unpack(">II", data[16:24]))) == icon["sizes"], icon["src"]
    for shortcut in manifest["shortcuts"]:
        assert client.get(shortcut["url"]).status_code == 200


def test_nothing_built_is_said_plainly(app, client, built):
    (built / "manifest.json").unlink()
    assert client.get("/app/").status_code == 500


def test_the_lock_file_names_no_registry():
    lock = (STATIC / "package-lock.json").read_text("utf-8")
    assert '"integrity"' in lock and '"resolved"' not in lock and "registry" not in lock
    assert "omit-lockfile-registry-resolved=true" in (STATIC / ".npmrc").read_text("utf-8")
