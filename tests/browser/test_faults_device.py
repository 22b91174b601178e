"""The phone fails: window or browser killed, frozen or locked in mid-sync (faults 27 to 29, 37, 38)."""

import pytest

from tests.browser.engine_bench import Bench, open_controlled, sign_in
from tests.browser.kept import check_all_there, check_kept, log_of, save, sync

LOCK_PATIENCE = 10_000  # of static/sync/lock.js
FAILED = r"Failed to load resource: net::ERR_|status of 401"
HOLD_BEFORE_FILING = """async (person) => {
  globalThis.store ??= await bench.openStore(person);
  const applyReply = () => { globalThis.reached = true; return new Promise(() => {}); };
  bench.createEngine({store: {...store, applyReply}}).syncNow();
}"""
START_SYNC = """async (person) => {
  globalThis.store ??= await bench.openStore(person);
  globalThis.engine ??= bench.createEngine({store});
  globalThis.first = engine.syncNow();
  return true;
}"""


@pytest.fixture
def page(phone, near, watch, anns_cookies):
    watch.allow(FAILED)
    phone.add_cookies(anns_cookies)
    return open_controlled(phone, near)


def reach(page, line, step, person) -> None:
    """Start a sync and bring it to a step: nothing sent, stored but not answered, answered but not filed."""
    if step == "before filing":
        page.evaluate(HOLD_BEFORE_FILING, person)
        page.wait_for_function("() => globalThis.reached")
        return
    line.hold_next("request" if step == "before sending" else "reply")
    page.evaluate(f"(person) => {{ ({START_SYNC})(person); }}", person)
    assert line.held.wait(60)


def end(page, how) -> None:
    """End the window at once, without a word to its script."""
    if how == "reload":
        page.reload(wait_until="commit")
    else:
        page.close()


@pytest.mark.parametrize("step", ["before sending", "before the answer", "before filing"])
@pytest.mark.parametrize("how", ["reload", "closed"])
def test_a_window_that_ends_in_a_push_loses_and_doubles_nothing(page, phone, bench, near, line, step, how):
    """Fault 27: between save and send, between the server's commit and the reply, and before it is filed."""
    person = bench.ids["person"]
    saved = save(page, person, bench.ids["one"], 3)
    reach(page, line, step, person)
    end(page, how)
    line.let_go()
    again = phone.new_page()
    again.goto(f"{near.url}/app/")
    assert set(check_kept(again, bench, person, saved).values()) == {"waiting"}
    assert sync(again, person)["phase"] == "idle"
    check_all_there(again, bench, person, saved)


def test_a_window_frozen_in_mid_sync_is_passed_by_another_and_wakes_without_harm(
    page, phone, bench, near, line
):
    """Faults 29, 37 and 38: the lock's holder is frozen; a second window waits its time and goes on."""
    person = bench.ids["person"]
    saved = save(page, person, bench.ids["two"], 3)
    reach(page, line, "before the answer", person)
    frozen = phone.new_cdp_session(page)
    frozen.send("Page.setWebLifecycleState", {"state": "frozen"})
    other = phone.new_page()
    other.goto(f"{near.url}/app/")
    fresh = save(other, person, bench.ids["two"], 1)
    assert sync(other, person, without=LOCK_PATIENCE)["phase"] == "idle"
    check_all_there(other, bench, person, saved | fresh)
    frozen.send("Page.setWebLifecycleState", {"state": "active"})
    line.let_go()
    assert page.evaluate("() => first")["phase"] in ("idle", "offline")
    assert sync(page, person)["phase"] == "idle"
    check_all_there(page, bench, person, saved | fresh)


def test_a_browser_killed_in_a_push_loses_and_doubles_nothing(open_profile, own_bench, line, watch):
    """Fault 28: every process of it at once, while the answer of what the server has stored is on its way."""
    watch.allow(FAILED)
    bench, profile = own_bench, open_profile()
    near, person = Bench(bench.folder, line.port), bench.ids["person"]
    page = open_controlled(profile.open(), near)
    sign_in(page, near)
    assert sync(page, person)["phase"] == "idle"
    saved = save(page, person, bench.ids["one"], 3)
    reach(page, line, "before the answer", person)
    assert profile.kill() > 0
    line.let_go()
    again = open_controlled(profile.open(), near)
    assert check_kept(again, bench, person, saved) == dict.fromkeys(saved, "waiting")
    assert set(saved) <= {entry["id"] for entry in log_of(bench)}
    sign_in(again, near)  # the browser writes its cookies down every half minute
    assert sync(again, person)["phase"] == "idle"
    check_all_there(again, bench, person, saved)


def test_a_phone_locked_in_a_push_files_nothing_and_goes_on_once_it_is_open(page, bench, line):
    """Fault 37: the key is gone when the answer comes; what the server has stored goes again, once."""
    person = bench.ids["person"]
    saved = save(page, person, bench.ids["one"], 3)
    reach(page, line, "before the answer", person)
    page.evaluate("() => bench.lockStores()")
    line.let_go()
    assert page.evaluate("() => first")["phase"] == "error"
    assert set(saved) <= {entry["id"] for entry in log_of(bench)}
    page.evaluate("() => { delete globalThis.store; delete globalThis.engine; }")
    assert check_kept(page, bench, person, saved) == dict.fromkeys(saved, "waiting")
    assert sync(page, person)["phase"] == "idle"
    check_all_there(page, bench, person, saved)
