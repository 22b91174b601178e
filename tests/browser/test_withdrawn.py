"""A phone that the service withdraws: what it received goes, what it could not hand in stays."""

from datetime import UTC, datetime

from playwright.sync_api import expect

from tests.browser.support import screenshot
from tests.browser.therapist import Therapist
from webapp.storage import Database
from webapp.storage.devices import known_devices, set_revoked
from webapp.storage.switches import find_organisation

CLIENT = "Adéla Kovářová-Shaw"


def withdraw_every_device(folder, at: datetime | None) -> None:
    database = Database(f"sqlite:///{folder / 'demo.sqlite3'}", "an invented secret of the tests")
    with database.reading() as session:
        organisation = find_organisation(session).id
        devices = known_devices(session, organisation)
    assert devices and all(set_revoked(database, organisation, device.id, at) for device in devices)
    database.dispose()


def test_a_withdrawn_phone_shows_no_client_and_keeps_what_it_could_not_hand_in(page, own_server):
    """Row 43, with real parts."""
    therapist = Therapist(page, own_server.url).begin()
    therapist.open_client(CLIENT)
    therapist.start_visit()
    therapist.wait_for_sync()
    page.context.set_offline(True)
    therapist.record_pulse("71")
    withdraw_every_device(own_server.folder, datetime.now(UTC))
    page.context.set_offline(False)
    expect(page.locator("a.status")).to_contain_text("Withdrawn")
    page.goto(f"{own_server.url}/app/")
    expect(page.get_by_role("heading", name="This phone is withdrawn")).to_be_visible()
    expect(page.get_by_text("1 entry you recorded is not in the record yet")).to_be_visible()
    screenshot(page, "withdrawn-today")
    page.goto(f"{own_server.url}/app/caseload")
    expect(page.get_by_text(CLIENT)).to_have_count(0)
    page.goto(f"{own_server.url}/app/phone")
    screenshot(page, "withdrawn-phone")
    line = page.locator("section", has_text="Needs attention").get_by_role("listitem")
    expect(line).to_contain_text("withdrawn this device")

    withdraw_every_device(own_server.folder, None)
    page.get_by_role("button", name="Sync now").click()
    therapist.wait_for_sync()
    therapist.open_client(CLIENT)
    expect(therapist.part("Pulse")).to_contain_text("71 /min")
