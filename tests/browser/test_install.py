"""The app can be installed, by Chromium's own judgement."""

import json

from playwright.sync_api import expect

from tests.browser.support import wait_for_service_worker
from tests.browser.therapist import Therapist


def test_chromium_finds_nothing_against_installing_it(open_profile, own_server):
    context = open_profile().open()
    page = context.new_page()
    Therapist(page, own_server.url).begin()
    wait_for_service_worker(page)
    browser = context.new_cdp_session(page)
    assert browser.send("Page.getInstallabilityErrors")["installabilityErrors"] == []
    manifest = browser.send("Page.getAppManifest")
    assert manifest["errors"] == []
    assert json.loads(manifest["data"])["start_url"] == "/app/"
    assert browser.send("Page.getAppId")["appId"] == f"{own_server.url}/"


def test_the_phone_screen_tells_how_to_install_and_how_safe_its_storage_is(page, server):
    Therapist(page, server.url).begin()
    page.get_by_role("link", name="Phone").click()
    expect(page.get_by_role("heading", name="Put the app on this phone")).to_be_visible()
    expect(page.get_by_text("may clear what is stored here")).to_be_visible()
