"""Stores and engines that earlier versions left behind, in Chromium against today's server: fault 35."""

import json
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page

from tests.browser.engine_bench import Bench, open_controlled, sign_in
from tests.browser.kept import ENTRIES, OUTBOX, check_kept, hashes, log_of, sync
from tests.browser.record_version import SAVE, VERSIONS, drafts_of

OPEN = """async ([person, phrase]) => {
  globalThis.store = await bench.openStore(person, phrase ?? undefined);
}"""
DRAFT = "() => store.draft('pulse')"
BUILD = "() => document.getElementById('app').textContent"
of_every_version = pytest.mark.parametrize(
    "folder", sorted(VERSIONS.iterdir()), ids=lambda path: f"version {path.name}"
)


def read(folder: Path, name: str) -> Any:
    return json.loads((folder / f"{name}.json").read_text("utf-8"))


@of_every_version
def test_an_earlier_store_is_opened_and_what_waited_in_it_is_sent(own_bench: Bench, phone, folder):
    """Nothing of what it held is lost, whatever it waited for; nothing is sent twice."""
    bench, inside, ids = own_bench, read(folder, "inside"), read(folder, "exchanges")["ids"]
    bench.settle_anew(ids)
    person = ids["person"]
    page = open_controlled(phone, bench)
    page.evaluate("([name, kept]) => bench.load(name, kept)", [f"lintel-{person}", read(folder, "store")])
    sign_in(page, bench)
    page.evaluate(OPEN, [person, inside["passphrase"]])
    # The server of this test has another log: what was sent goes again, what corrects it behind it, and what
    # came from the person's other device is handed back.
    assert sync(page, person)["phase"] == "idle"
    everything = hashes(inside["entries"])
    assert len(everything) > len(inside["outbox"]) > 2
    waiting = check_kept(page, bench, person, everything)
    kept = {each["id"]: each["state"] for each in inside["outbox"] if each["code"]}
    assert waiting == kept, "what needs attention and what waits for a newer server, and nothing else"
    assert set(everything) == set(waiting) | {entry["id"] for entry in log_of(bench)}
    assert page.evaluate(DRAFT) == inside["drafts"]["pulse"]


def use(context: BrowserContext, bench: Bench) -> Page:
    """A page with its store open under the built code, signed in."""
    page = open_controlled(context, bench)
    sign_in(page, bench)
    page.evaluate(OPEN, [bench.ids["person"], None])
    return page


def saved(page: Page, *drafts: dict[str, Any]) -> dict[str, str]:
    """Save as a screen does; id -> hash."""
    own = page.evaluate(SAVE, list(drafts))
    return hashes(page.evaluate("(ids) => Promise.all(ids.map((id) => store.entry(id)))", own))


def update(page: Page) -> None:
    """Change to the build that the server gives now, as the button does."""
    page.evaluate("async () => (await bench.registered).update()")
    page.wait_for_function("() => bench.readyCalls > 0")
    with page.expect_navigation():
        page.evaluate("() => bench.applyUpdate()")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null && globalThis.bench")


def note(client: str, text: str, **more: Any) -> dict[str, Any]:
    return {"kind": "note", "client": client, "body": {"text": text}, **more}


@of_every_version
def test_an_earlier_engine_works_with_todays_server_and_hands_over_to_todays(
    own_bench: Bench, phone, open_phone, folder
):
    """The old code pushes, pulls and is refused; a new app joins it; it is updated with work unsent."""
    bench, (person, one, two) = own_bench, (own_bench.ids[name] for name in ("person", "one", "two"))
    bench.earlier_version(folder / "engine.js")
    old = use(phone, bench)
    built = old.evaluate(BUILD)
    kept = saved(old, *drafts_of(one))
    assert sync(old, person)["phase"] == "idle"
    states = sorted(row["code"] for row in old.evaluate(OUTBOX, person))
    assert states == ["required", "unknown_kind"] and len(log_of(bench)) == 3

    bench.new_version("of today")
    new = use(open_phone(), bench)
    assert new.evaluate(BUILD) != built
    assert sync(new, person)["phase"] == "idle"
    target = next(entry["id"] for entry in log_of(bench) if entry["kind"] == "note")
    kept |= saved(new, note(one, "Rang once.", amends=target, reason="A slip."), note(two, "From a new app."))
    assert sync(new, person)["phase"] == sync(old, person)["phase"] == "idle"
    for client in (one, two):
        ours, theirs = (hashes(page.evaluate(ENTRIES, [person, client])) for page in (new, old))
        assert ours.items() <= theirs.items(), "both hold the same; the old one also what waits on it"

    kept |= saved(old, note(two, "Not sent by the old app."))
    old.evaluate("() => store.saveDraft('pulse', {rate: '7'})")
    assert old.evaluate(BUILD) == built, "an app in use is not changed under its person"
    update(old)
    assert old.evaluate(BUILD) != built
    old.evaluate(OPEN, [person, None])
    assert old.evaluate(DRAFT) == {"rate": "7"}
    assert sync(old, person)["phase"] == sync(new, person)["phase"] == "idle"
    waiting = check_kept(old, bench, person, kept)
    assert sorted(waiting.values()) == ["held", "waiting"] and len(log_of(bench)) == len(kept) - 2
    assert {entry["id"] for entry in log_of(bench)} == set(kept) - set(waiting)
