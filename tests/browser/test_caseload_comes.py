"""Recorded about a client who had left the caseload: held, and sent by itself once the client is back."""

from datetime import UTC, datetime, timedelta

from playwright.sync_api import expect
from sqlalchemy import select

from demo_home_visits import people
from tests.browser.support import screenshot
from tests.browser.therapist import Therapist
from webapp.storage import Database, Person, assign_caseload, end_caseload
from webapp.storage.models import User

CLIENT = "Adéla Kovářová-Shaw"


def service(folder) -> tuple[Database, Person]:
    database = Database(f"sqlite:///{folder / 'demo.sqlite3'}", "an invented secret of the tests")
    with database.reading() as session:
        row = session.scalars(select(User).where(User.sign_in_name == people.FIRST_THERAPIST)).one()
        return database, Person(row.id, row.organisation_id, row.display_name, row.role)


def test_what_the_caseload_held_back_is_sent_by_itself_once_the_client_is_on_it(page, own_server):
    database, person = service(own_server.folder)
    therapist = Therapist(page, own_server.url).begin()
    therapist.open_client(CLIENT)
    client = page.url.rsplit("/", 1)[-1]
    therapist.start_visit()
    therapist.wait_for_sync()
    page.context.set_offline(True)
    therapist.record_pulse("71")
    assert end_caseload(database, person, client, until=datetime.now(UTC) - timedelta(hours=1))
    page.context.set_offline(False)
    expect(page.locator("a.status")).to_contain_text("1 needs attention")
    page.goto(f"{own_server.url}/app/phone")
    line = page.locator("section", has_text="Needs attention").get_by_role("listitem")
    expect(line).to_contain_text("not on your caseload")
    screenshot(page, "caseload-held", whole=True)

    assign_caseload(database, person, [client])
    database.dispose()
    page.get_by_role("button", name="Sync now").click()
    therapist.wait_for_sync()
    expect(line).to_have_count(0)
    therapist.open_client(CLIENT)
    expect(therapist.part("Pulse")).to_contain_text("71 /min")
