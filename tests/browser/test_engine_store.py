"""Store and engine in a real browser: what survives a kill, two windows, and a real server."""

import pytest

from tests.browser.engine_bench import Bench, open_controlled, sign_in, wait_for

SAVE = """async ([person, client, count]) => {
  globalThis.store ??= await bench.openStore(person);
  const drafts = Array.from({length: count}, (_, i) => ({kind: 'note', client, body: {text: `Note ${i}`}}));
  return (await store.saveMany(drafts)).map(({id}) => id);
}"""
FOUND = """async ([person, client]) => {
  globalThis.store ??= await bench.openStore(person);
  const [entries, counts] = [await store.entriesOf(client), await store.counts()];
  return {ids: entries.map(({id}) => id), waiting: counts.waiting, cards: await store.cards()};
}"""
SYNC = """async (person) => {
  globalThis.store ??= await bench.openStore(person);
  globalThis.engine ??= bench.createEngine({store});
  return engine.syncNow();
}"""


@pytest.fixture
def bench(own_bench) -> Bench:
    return own_bench


@pytest.mark.parametrize("count", [1, 40])
def test_saved_is_there_after_the_browser_was_killed_and_the_server_too(bench, open_profile, watch, count):
    profile = open_profile()
    page = open_controlled(profile.open(), bench)
    place = [bench.ids["person"], bench.ids["one"]]
    ids = page.evaluate(SAVE, [*place, count])
    assert profile.kill() > 0
    bench.kill()
    watch.allow_network_errors()
    again = profile.open().new_page()
    again.goto(f"{bench.url}/app/")
    found = again.evaluate(FOUND, place)
    assert sorted(found["ids"]) == sorted(ids) and len(ids) == count
    assert found["waiting"] == count
    assert found["cards"] == [{"client": place[1], "count": count}]


def test_another_person_on_the_same_phone_sees_nothing_of_the_first(bench, phone):
    page = open_controlled(phone, bench)
    page.evaluate(SAVE, [bench.ids["person"], bench.ids["one"], 3])
    seen = page.evaluate("""async () => {
      await bench.rememberPerson({id: 'first'});
      await bench.rememberPerson({id: 'second'});
      const store = await bench.openStore('second');
      return [await store.cards(), await store.counts(), (await bench.currentPerson()).id];
    }""")
    assert seen == [[], {"waiting": 0, "held": 0, "oldest": None}, "second"]
    count = "async (id) => { await bench.rememberPerson({id}); return bench.unsentOfOthers('second'); }"
    assert page.evaluate(count, bench.ids["person"]) == 3


def test_two_windows_number_their_entries_without_gap_or_double(bench, phone):
    one, two = open_controlled(phone, bench), open_controlled(phone, bench)
    place = [bench.ids["person"], bench.ids["one"]]
    ten = f"() => Promise.all(Array.from({{length: 10}}, () => ({SAVE})(globalThis.place)))"
    for page in (one, two):
        page.evaluate(FOUND, place)
        page.evaluate("(place) => { globalThis.place = place; }", [*place, 1])
    for page in (one, two):
        page.evaluate(f"() => {{ globalThis.saving = ({ten})(); }}")
    for page in (one, two):
        page.evaluate("() => saving")
    numbers = one.evaluate(
        "async (client) => (await store.entriesOf(client)).map((entry) => entry.device_seq)", place[1]
    )
    assert sorted(numbers) == list(range(1, 21))


def test_two_windows_send_each_entry_once_and_another_phone_gets_them(bench, phone, open_phone):
    page = open_controlled(phone, bench)
    place = [bench.ids["person"], bench.ids["one"]]
    page.evaluate(SAVE, [*place, 5])
    assert page.evaluate(SYNC, place[0])["phase"] == "sign_in"
    assert page.evaluate("() => store.counts()")["waiting"] == 5
    sign_in(page, bench)
    other = open_controlled(phone, bench)
    for each in (page, other):
        each.evaluate(f"(person) => {{ globalThis.done = ({SYNC})(person); }}", place[0])
    for each in (page, other):
        status = each.evaluate("() => done")
        assert (status["phase"], status["waiting"], status["held"]) == ("idle", 0, 0), status
    ids = page.evaluate(FOUND, place)["ids"]
    assert len(ids) == 5

    second = open_controlled(open_phone(), bench)
    sign_in(second, bench)
    assert second.evaluate(SYNC, place[0])["phase"] == "idle"
    assert sorted(second.evaluate(FOUND, place)["ids"]) == sorted(ids)


def test_a_killed_server_costs_nothing_and_the_timer_alone_repairs_it(bench, phone, watch):
    page = open_controlled(phone, bench)
    place = [bench.ids["person"], bench.ids["one"]]
    sign_in(page, bench)
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")
    assert page.evaluate(SYNC, place[0])["phase"] == "idle"
    watch.allow_network_errors()
    bench.kill()
    page.evaluate("() => engine.start()")
    page.evaluate(SAVE, [*place, 2])
    wait_for(lambda: page.evaluate("() => engine.status().phase") == "offline")
    bench.start()
    wait_for(lambda: page.evaluate("() => engine.status().waiting") == 0)
    assert page.evaluate("() => store.counts()") == {"waiting": 0, "held": 0, "oldest": None}
