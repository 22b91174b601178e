"""The phone's storage fails: full, taken away, taken back, ended in the middle (faults 27, 30 and 34)."""

import pytest

from tests.browser.engine_bench import open_controlled, sign_in
from tests.browser.kept import check_all_there, check_kept, hashes, save, sync

FAILED = r"Failed to load resource: net::ERR_|status of 401"


@pytest.fixture
def page(phone, near, watch, anns_cookies):
    watch.allow(FAILED)
    phone.add_cookies(anns_cookies)
    return open_controlled(phone, near)


SAVE_AND_SAY = """([person, client, count]) => {
  const drafts = Array.from({length: count}, (_, i) => ({kind: 'note', client, body: {text: `Note ${i}`}}));
  localStorage.clear();
  globalThis.saving = store.saveMany(drafts).then(() => localStorage.setItem('saved', 'yes'));
}"""
FOUND = """async (client) => {
  const [entries, box] = [await store.entriesOf(client), await store.outbox()];
  return [localStorage.getItem('saved'), entries.length, box.length, await store.lastDeviceSeq()];
}"""


def test_a_window_that_ends_in_a_save_has_saved_all_of_it_or_nothing(page, phone, bench, near):
    """Fault 27: entries, outbox and counter are one transaction; what was called saved is there."""
    person, one, before = bench.ids["person"], bench.ids["one"], 0
    save(page, person, one, 0)
    outcomes = set()
    for pause in (0, 5, 20, 80, "saved"):
        page.evaluate(SAVE_AND_SAY, [person, one, 60])
        if pause == "saved":
            page.wait_for_function("() => localStorage.getItem('saved') === 'yes'")
        else:
            page.wait_for_timeout(pause)
        page.close()
        page = phone.new_page()
        page.goto(f"{near.url}/app/")
        save(page, person, one, 0)
        said, entries, waiting, counter = page.evaluate(FOUND, one)
        assert entries == waiting == counter and entries - before in (0, 60), pause
        assert not said or entries == before + 60, "called saved, and gone"
        outcomes.add(entries - before)
        before = entries
    assert 60 in outcomes
    assert sync(page, person)["phase"] == "idle"


def test_a_commit_that_aborts_without_an_error_is_a_save_that_failed(page, bench):
    """The browser takes a transaction back after every request in it had succeeded."""
    person, one = bench.ids["person"], bench.ids["one"]
    save(page, person, one, 0)
    page.evaluate("""() => {
      const put = IDBObjectStore.prototype.put;
      globalThis.whole = () => { IDBObjectStore.prototype.put = put; };
      IDBObjectStore.prototype.put = function (...all) {
        const request = put.apply(this, all);
        if (this.name === 'cards') request.addEventListener('success', () => this.transaction.abort());
        return request;
      };
    }""")
    refused = page.evaluate(TRY_SAVE, [person, one])
    assert refused.get("code") == "unknown" and refused["message"].endswith("."), refused
    page.evaluate("() => whole()")
    assert page.evaluate("() => Promise.all([store.outbox(), store.lastDeviceSeq()])") == [[], 0]
    after = page.evaluate(TRY_SAVE, [person, one])
    assert after.get("device_seq") == 1, after
    assert sync(page, person)["phase"] == "idle"
    check_all_there(page, bench, person, hashes([after]))


FILL_UP = """async (person) => {
  globalThis.store ??= await bench.openStore(person);
  const fits = (key, size) => store.saveDraft(key, 'x'.repeat(size)).then(() => true, ({code}) => {
    if (code !== 'quota') throw new Error(`expected no room, got ${code}`);
    return false;
  });
  let drafts = 0;
  for (let before = -1; before < drafts;) {  // until not even the smallest fits: room may show late
    before = drafts;
    for (const size of [100_000, 10_000, 1_000]) {
      while (await fits(`filler-${drafts}`, size)) drafts += 1;
    }
  }
  return drafts;
}"""


class Room:
    """How much the app's storage may take; to be set before the store opens, for the browser looks rarely.

    To be given amply: what the log of other tests takes comes off it too. FILL_UP makes it small.
    """

    def __init__(self, page, url: str) -> None:
        # Kept open: the browser forgets the limit with the session that set it.
        self.session, self.page, self.url = page.context.new_cdp_session(page), page, url

    def leave(self, size: int) -> None:
        """Leave this many bytes beside what is taken."""
        usage = self.page.evaluate("async () => (await navigator.storage.estimate()).usage")
        self.limit({"quotaSize": usage + size})

    def as_before(self) -> None:
        self.limit({})

    def limit(self, limit: dict) -> None:
        self.session.send("Storage.overrideQuotaForOrigin", {"origin": self.url, **limit})


TRY_SAVE = """async ([person, client]) => {
  globalThis.store ??= await bench.openStore(person);
  try {
    return await store.save({kind: 'note', client, body: {text: 'x'.repeat(2000)}});
  } catch ({name, code, message}) {
    return {name, code, message};
  }
}"""


def test_a_full_phone_refuses_to_save_aloud_and_saves_again_when_there_is_room(page, bench, near):
    """Fault 30, at a save: the store says why, keeps nothing half, and counts nothing."""
    person, one = bench.ids["person"], bench.ids["one"]
    room = Room(page, near.url)
    room.leave(3_000_000)
    saved = save(page, person, one, 2)
    assert page.evaluate(FILL_UP, person) > 0, "there was no room to begin with"
    refused = page.evaluate(TRY_SAVE, [person, one])
    assert refused.get("code") == "quota" and "no room left" in refused["message"], refused
    assert set(check_kept(page, bench, person, saved)) == set(saved)
    assert page.evaluate("() => store.lastDeviceSeq()") == 2
    room.as_before()
    after = page.evaluate(TRY_SAVE, [person, one])
    assert after.get("device_seq") == 3, after
    assert sync(page, person)["phase"] == "idle"
    check_all_there(page, bench, person, saved | hashes([after]))


def test_a_page_that_does_not_fit_moves_no_cursor_and_comes_again(page, open_phone, bench, near):
    """Fault 30, while fetching: the sync says why, what was pushed waits on, and all is there afterwards."""
    person, one = bench.ids["person"], bench.ids["one"]
    room = Room(page, near.url)
    room.leave(3_000_000)
    assert sync(page, person)["phase"] == "idle"
    before = page.evaluate("() => store.cursor()")
    mine = save(page, person, one, 1)
    second = open_controlled(open_phone(), bench)
    sign_in(second, bench)
    theirs = save(second, person, one, 40)
    assert sync(second, person)["phase"] == "idle"
    assert page.evaluate(FILL_UP, person) > 0, "there was no room to begin with"
    status = sync(page, person)
    assert (status["phase"], status["waiting"]) == ("error", 1), status
    assert "no room left for what the server sends" in status["message"]
    assert page.evaluate("() => store.cursor()") == before
    check_kept(page, bench, person, mine | theirs)
    room.as_before()
    assert sync(page, person)["phase"] == "idle"
    check_all_there(page, bench, person, mine | theirs)
    here = page.evaluate("async (client) => (await store.entriesOf(client)).map(({id}) => id)", one)
    assert set(here) >= set(mine | theirs)


def test_a_store_that_another_window_takes_away_is_opened_again(page, bench):
    """The browser closes the connection in mid-use: the next save opens it again."""
    person, one = bench.ids["person"], bench.ids["one"]
    page.evaluate("""() => {
      const open = IDBFactory.prototype.open;
      globalThis.connections = [];
      IDBFactory.prototype.open = function (...all) {
        const request = open.apply(this, all);
        request.addEventListener('success', () => connections.push(request.result));
        return request;
      };
    }""")
    saved = save(page, person, one, 1)
    opened = page.evaluate("() => connections.length")
    page.evaluate("() => connections.forEach((connection) => connection.close())")
    saved |= save(page, person, one, 1)
    assert page.evaluate("() => connections.length") == opened + 1
    page.evaluate("() => connections.forEach((connection) => connection.close())")
    assert sync(page, person)["phase"] == "idle"
    check_all_there(page, bench, person, saved)


NEWER = """([name, refuse]) => new Promise((resolve) => {
  const request = indexedDB.open(name, 99);
  request.onblocked = () => resolve('blocked');
  request.onupgradeneeded = () => refuse && request.transaction.abort();
  request.onerror = () => resolve('refused');
  request.onsuccess = () => { request.result.close(); resolve('upgraded'); };
})"""


def test_a_window_with_a_newer_database_is_let_in_and_the_old_one_says_so(page, phone, bench, near):
    """Fault 34: the old window lets go, saves nothing by mistake and says what to do; nothing is lost."""
    person, one = bench.ids["person"], bench.ids["one"]
    saved = save(page, person, one, 2)
    other = phone.new_page()
    other.goto(f"{near.url}/app/")
    assert other.evaluate(NEWER, [f"lintel-{person}", True]) == "refused", "the old window had let go"
    saved |= save(page, person, one, 1)
    assert other.evaluate(NEWER, [f"lintel-{person}", False]) == "upgraded"
    refused = page.evaluate(TRY_SAVE, [person, one])
    assert refused["code"] == "newer" and "close every window of Lintel" in refused["message"]
    raw = """(name) => new Promise((resolve) => {
      const request = indexedDB.open(name);
      request.onsuccess = () => {
        const rows = request.result.transaction('outbox').objectStore('outbox').getAllKeys();
        rows.onsuccess = () => resolve(rows.result);
      };
    })"""
    assert set(other.evaluate(raw, f"lintel-{person}")) == set(saved)
