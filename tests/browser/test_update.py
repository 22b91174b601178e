"""A new version of the app arrives while a form is open: nothing typed is lost, nothing moves by itself."""

import re
import threading
from collections.abc import Iterator

import pytest
from playwright.sync_api import expect
from werkzeug.serving import make_server

from demo_home_visits.serve import secret, url_of
from tests.browser.engine_bench import wait_for
from tests.browser.live_server import free_port
from tests.browser.therapist import Therapist
from webapp import create_app
from webapp.config import Settings

WAITS = "async () => (await navigator.serviceWorker.getRegistration()).waiting !== null"


class Releases:
    """The demo behind a switch: `newer` makes its service worker that of a later release."""

    def __init__(self, app) -> None:
        self.app, self.newer = app, False

    def __call__(self, environ, start_response):
        if not self.newer or environ["PATH_INFO"] != "/service_worker.js":
            return self.app(environ, start_response)
        kept: list = []
        body = b"".join(self.app(environ, lambda status, headers, exc=None: kept.append((status, headers))))
        status, headers = kept[0]
        changed = re.sub(rb'"version": "\w+"', b'"version": "0123456789abcdef"', body)
        assert changed != body
        start_response(
            status, [pair for pair in headers if pair[0].lower() not in ("content-length", "etag")]
        )
        return [changed]


@pytest.fixture
def releases(filled_folder, tmp_path) -> Iterator[tuple[Releases, str]]:
    copy = filled_folder.copy_to(tmp_path / "server")
    settings = Settings(
        database_url=url_of(copy.folder / "demo.sqlite3"), secret_key=secret(copy.folder), demo=True
    )
    switch, port = Releases(create_app(settings)), free_port()
    server = make_server("127.0.0.1", port, switch, threaded=True)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield switch, f"http://127.0.0.1:{port}"
    server.shutdown()
    server.server_close()
    thread.join(5)


def test_an_update_waits_for_the_therapist_and_keeps_the_open_form(page, releases):
    switch, url = releases
    therapist = Therapist(page, url).begin()
    therapist.open_client("Femke van der Zilverberg")
    therapist.start_visit()
    therapist.open_part("Temperature")
    therapist.choose("Mouth")
    therapist.enter("Temperature", "36.4")
    loads: list[str] = []
    page.on("load", lambda: loads.append(page.url))

    switch.newer = True
    page.evaluate("navigator.serviceWorker.getRegistration().then((registration) => registration.update())")
    wait_for(lambda: page.evaluate(WAITS))
    expect(page.get_by_role("textbox", name="Temperature")).to_have_value("36.4")
    assert loads == []

    form = page.url
    therapist.back_to_visit()
    page.goto(f"{url}/app/phone")
    with page.expect_navigation():
        page.get_by_role("button", name="Change to the new version").click()
    wait_for(lambda: not page.evaluate(WAITS))
    page.goto(form)
    expect(page.get_by_role("textbox", name="Temperature")).to_have_value("36.4")
    therapist.save()
    expect(page.locator(".figure")).to_contain_text("36.4 °C")
