"""A reminder on its whole way: subscribed in Firefox, sent by the worker, decrypted and shown there."""

import os
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, Playwright, expect

from demo_home_visits import serve
from tests import system_programs
from tests.browser.firefox_push_server import FirefoxPushServer
from tests.browser.live_server import LiveServer
from tests.browser.support import sign_in
from tests.browser.unlocking import keep_unlocked
from webapp.config import Settings
from webapp.reminders.vapid import make_private_key
from webapp.reminders.worker_of import worker_of
from webapp.storage import Database
from webapp.storage.models import Reminder

SHOWN = """async () => {
  const registration = await navigator.serviceWorker.ready;
  return (await registration.getNotifications()).map(({title, body, tag}) => ({title, body, tag}));
}"""


@pytest.fixture
def push_server() -> Iterator[FirefoxPushServer]:
    with FirefoxPushServer() as started:
        yield started


@pytest.fixture
def reminding_server(filled_folder: LiveServer, tmp_path: Path, push_server: FirefoxPushServer):
    server = filled_folder.copy_to(tmp_path / "server")
    server.options = ("--push-host", push_server.host)
    server.start()
    yield server
    server.stop()


@pytest.fixture
def firefox(driver: Playwright, push_server: FirefoxPushServer) -> Iterator[Page]:
    """A page of Firefox ESR that takes its push messages from the tests' push service."""
    preferences = {
        "dom.push.serverURL": push_server.address,
        "dom.push.testing.allowInsecureServerURL": True,
        "dom.push.testing.ignorePermission": True,
        "dom.push.enabled": True,
        "dom.push.connection.enabled": True,
        "dom.push.userAgentID": "",
        "permissions.default.desktop-notification": 1,
        "network.manage-offline-status": False,
        "alerts.useSystemBackend": False,
    }
    browser = driver.firefox.launch(
        channel="moz-firefox",
        executable_path=system_programs.firefox(),
        firefox_user_prefs=preferences,
        env={**os.environ, "MOZ_HEADLESS": "1"},
    )
    context = browser.new_context(viewport={"width": 360, "height": 800})
    keep_unlocked(context)
    yield context.new_page()
    browser.close()


@pytest.mark.skipif(system_programs.firefox() is None, reason="there is no Firefox ESR here")
def test_a_real_subscription_end_to_end(firefox: Page, reminding_server: LiveServer, push_server):
    sign_in(firefox, reminding_server.url)
    firefox.goto(f"{reminding_server.url}/app/reminders")
    firefox.get_by_role("button", name="Switch reminders on").click()
    expect(firefox.get_by_text("Reminders are on.")).to_be_visible()
    send_what_comes_next(reminding_server, push_server)
    notifications = shown(firefox)
    assert [each["tag"] for each in notifications] == ["due"]
    words = " ".join(f"{each['title']} {each['body']}" for each in notifications)
    assert any(character.isdigit() for character in words)
    assert len(push_server.messages) == 1 and b"reminder" not in push_server.messages[0]


def send_what_comes_next(server: LiveServer, push_server: FirefoxPushServer) -> None:
    """Work as the worker does at the moment of the next reminder."""
    url, secret = serve.url_of(server.folder / serve.DATABASE), serve.secret(server.folder)
    database = Database(url, secret)
    key = serve.kept(server.folder / "push_key", make_private_key)
    worker_of(database, Settings(database_url=url, secret_key=secret, demo=True)).once()
    with database.reading() as session:
        [waiting] = session.query(Reminder).filter(Reminder.state == "waiting")
    settings = Settings(
        database_url=url, secret_key=secret, demo=True, clock=lambda: waiting.due_at,
        push_private_key=key, push_contact="mailto:nobody@example.org", push_hosts=(push_server.host,),
    )  # fmt: skip
    counts = worker_of(database, settings).once()
    database.dispose()
    assert counts["sent"] == 1, counts


def shown(page: Page) -> list[dict[str, str]]:
    """The notifications, once there are any."""
    patient_until = time.monotonic() + 30
    while time.monotonic() < patient_until:
        page.wait_for_timeout(500)
        found = page.evaluate(SHOWN)
        if found:
            return found
    return []
