"""The service was restored from a backup: what a phone shows of what colleagues recorded and the log lost."""

from playwright.sync_api import Page, expect
from sqlalchemy import delete, or_, select
from sqlalchemy.orm import aliased

from tests.browser.accessibility import assert_accessible
from tests.browser.support import screenshot
from tests.browser.test_more_screens import GO
from tests.browser.test_screens import JUDGED, TWICE_AS_LARGE, sideways
from tests.browser.therapist import Therapist
from webapp.storage import Database
from webapp.storage.epochs import renew_epoch
from webapp.storage.models import Entry, User

FORGET_RECEIPTS = """async () => {
  const asked = (request) => new Promise((done, failed) => {
    request.onsuccess = () => done(request.result);
    request.onerror = () => failed(request.error);
  });
  const [{name}] = (await indexedDB.databases()).filter((each) => /^lintel-[0-9a-f]{8}-/.test(each.name));
  const db = await asked(indexedDB.open(name));
  const meta = db.transaction('meta', 'readwrite').objectStore('meta');
  const range = IDBKeyRange.bound('receipt:', 'receipt:\\uffff');
  const found = await asked(meta.count(range));
  await asked(meta.delete(range));
  db.close();
  return found;
}"""
LEAD = "hester@larkmere.example"


def lose(folder, most: int) -> list[str]:
    """The newest entries of others than the lead are lost, and the log has a new epoch; their ids."""
    database = Database(f"sqlite:///{folder / 'demo.sqlite3'}", "an invented secret of the tests")
    later = aliased(Entry)
    named = select(later.id).where(or_(later.amends == Entry.id, later.voids == Entry.id)).exists()
    with database.writing() as session:
        lead = session.scalars(select(User.id).where(User.sign_in_name == LEAD)).one()
        query = select(Entry.id).where(Entry.author_id != lead, ~named).order_by(Entry.seq.desc()).limit(most)
        lost = list(session.scalars(query))
        session.execute(delete(Entry).where(Entry.id.in_(lost)))
    renew_epoch(database)
    database.dispose()
    return lost


def stored(folder, ids: list[str]) -> int:
    database = Database(f"sqlite:///{folder / 'demo.sqlite3'}", "an invented secret of the tests")
    with database.reading() as session:
        found = session.scalars(select(Entry.id).where(Entry.id.in_(ids))).all()
    database.dispose()
    return len(found)


def sync_now(page: Page) -> None:
    page.evaluate(GO, "/app/phone")
    page.get_by_role("button", name="Sync now").click()
    expect(page.get_by_role("button", name="Sync now")).to_be_enabled()


def test_it_is_given_back_without_a_word_where_it_is_proved(page, own_server):
    Therapist(page, own_server.url).begin(LEAD)
    lost = lose(own_server.folder, 3)
    sync_now(page)
    expect(page.get_by_text("All synced at").first).to_be_visible()
    assert len(lost) == stored(own_server.folder, lost) == 3
    expect(page.get_by_role("heading", name="Lost by the server, kept here")).to_have_count(0)


def test_without_proof_it_is_shown_and_counted_as_kept_aside(page, own_server):
    Therapist(page, own_server.url).begin(LEAD)
    assert page.evaluate(FORGET_RECEIPTS) > 0
    lost = lose(own_server.folder, 2)
    sync_now(page)
    part = page.get_by_role("region", name="Lost by the server, kept here")
    expect(part).to_contain_text("2 entries of theirs were handed in and are kept aside.")
    expect(part.get_by_role("listitem")).to_have_count(2)
    expect(part.get_by_role("listitem").locator("bdi")).to_have_count(2)  # of whom
    page.get_by_role("button", name="Sync now").focus()
    for place in range(2):
        page.keyboard.press("Tab")
        expect(part.get_by_role("link").nth(place)).to_be_focused()
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        screenshot(page, f"restored-phone-{scheme}", whole=True)
        page.evaluate("window.scrollTo(0, document.documentElement.scrollHeight)")
        assert_accessible(page, JUDGED)
    page.evaluate(TWICE_AS_LARGE)
    screenshot(page, "restored-phone-200", whole=True)
    assert sideways(page) == ""
    assert stored(own_server.folder, lost) == 0
