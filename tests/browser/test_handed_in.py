"""What devices handed in for a decision: the list, and looking at it, as a lead sees them on a phone."""

from datetime import UTC, datetime
from hashlib import sha256

from playwright.sync_api import Page, expect
from sqlalchemy import select

from demo_home_visits import people
from sync.canonical import canonical
from tests.browser.accessibility import assert_accessible
from tests.browser.support import screenshot, sign_in
from tests.browser.test_emergency import ADMINISTRATOR
from tests.browser.test_restored_phone import LEAD
from tests.browser.test_screens import JUDGED, TWICE_AS_LARGE, sideways
from webapp.storage import Database
from webapp.storage.models import Device, Entry, Holding, User
from webapp.storage.people import person_of
from webapp.storage.read import entry_json
from webapp.storage.rights import led_people, visible_clients

DEVICE = "5c1f2f0e-7a54-4d0b-9d61-0e6a52a1c0d{}"
NOBODYS = "00000000-0000-4000-8000-00000000000{}"
CODES = ("device_revoked", "put_aside", "unproved")
KINDS = ("note", "temperature", "blood_pressure", "activity", "details")


def put_aside(folder) -> None:
    """For each reason a device of one of the lead's people, with several kinds and one about a stranger."""
    now = datetime.now(UTC)
    database = Database(f"sqlite:///{folder / 'demo.sqlite3'}", "an invented secret of the tests")
    with database.writing() as session:
        lead = person_of(session.scalars(select(User).where(User.sign_in_name == LEAD)).one())
        owner = session.scalars(led_people(lead, now)).first()
        seen = select(Entry).where(Entry.client_id.in_(visible_clients(lead, now)), Entry.amends.is_(None))
        found = [session.scalars(seen.where(Entry.kind == kind)).first() for kind in KINDS]
        entries = [entry_json(each) for each in found if each] or []
        assert len(entries) == len(KINDS)
        entries.append(entries[0] | {"client": NOBODYS.format(1)})
        session.add(lost_phone(lead.organisation, owner, now))
        for code in CODES:
            for place, entry in enumerate(entries):
                session.add(holding(lead.organisation, owner, code, place, entry, now))
    database.dispose()


def lost_phone(organisation, owner, now) -> Device:
    return Device(
        organisation_id=organisation, user_id=owner, id=DEVICE.format(0), name="Lost phone", build="x",
        last_sync_at=now, unsent=0, last_device_seq=0, revoked_at=now,
    )  # fmt: skip


def holding(organisation, owner, code, place, entry, now) -> Holding:
    made = {key: value for key, value in entry.items() if key not in ("seq", "received_at")}
    own = f"019ab9e8-3adb-7000-8000-{CODES.index(code):06}{place:06}"
    raw = canonical(made | {"id": own}).encode()
    return Holding(
        organisation_id=organisation, user_id=owner, raw_hash=sha256(raw).hexdigest(), entry_id=own,
        device_id=DEVICE.format(CODES.index(code)), verdict="held", code=code, field=None,
        raw=raw, received_at=now,
    )  # fmt: skip


def look_at(page: Page, name: str) -> None:
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        screenshot(page, f"{name}-{scheme}", whole=True)
        assert_accessible(page, JUDGED)
    page.evaluate(TWICE_AS_LARGE)
    screenshot(page, f"{name}-200", whole=True)
    assert sideways(page) == ""


def focused(page: Page, times: int) -> list[str]:
    """What a keyboard comes to, in order."""
    names = []
    for _ in range(times):
        page.keyboard.press("Tab")
        names.append(page.evaluate("() => document.activeElement.textContent.trim().replace(/\\s+/g, ' ')"))
    return names


def test_a_lead_looks_at_what_was_handed_in_and_takes_it(page, own_server):
    put_aside(own_server.folder)
    sign_in(page, own_server.url, LEAD)
    page.goto(f"{own_server.url}/handed-in")
    expect(page.get_by_role("heading", level=2)).to_have_count(3)
    assert [name.split()[0] for name in focused(page, 5)] == ["Look", "Look", "Look", "Your", "Back"]
    look_at(page, "handed-in")
    page.reload()
    page.get_by_role("link", name="Look at it and decide").last.click()
    expect(page.get_by_role("heading", name="Handed back without proof")).to_be_visible()
    expect(page.get_by_role("listitem")).to_have_count(len(KINDS) + 1)
    expect(page.get_by_text("About a client whom you may not see")).to_have_count(1)
    expect(page.get_by_text("Not sound as it stands")).to_have_count(0)
    assert focused(page, 2) == ["Take all of it into the record", "Leave it, and back to the list"]
    look_at(page, "handed-in-device")
    page.get_by_role("button", name="Take all of it into the record").click()
    expect(page.get_by_role("status").first).to_contain_text("is in the record now")
    expect(page.get_by_role("status").last).to_contain_text("1 could not be taken for another reason")
    screenshot(page, "handed-in-taken", whole=True)


def test_an_administrator_comes_from_the_devices_to_where_it_is_looked_at(page, own_server):
    put_aside(own_server.folder)
    page.goto(f"{own_server.url}/sign-in")
    page.get_by_label("Sign-in name").fill(ADMINISTRATOR)
    page.get_by_label("Password").fill(people.PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.get_by_role("link", name="Devices").click()
    look_at(page, "office-devices-handed-in")
    page.reload()
    page.get_by_role("link", name="Look at it and decide").click()
    expect(page.get_by_role("heading", name="Handed in by a withdrawn device")).to_be_visible()
    expect(page.get_by_text("About a client whom you may not see")).to_have_count(len(KINDS) + 1)
    page.get_by_role("button", name="Take all of it into the record").click()
    expect(page.get_by_role("status").last).to_contain_text("1 could not be taken for another reason")
    page.get_by_role("link", name="The service’s devices").click()
    expect(page.get_by_text("1 handed in since it was withdrawn")).to_be_visible()
