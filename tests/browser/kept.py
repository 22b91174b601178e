"""The fault tests' oracle: what was called saved is on the server once, unchanged, or waits in sight."""

from collections import Counter
from typing import Any

from playwright.sync_api import Page

from sync.canonical import entry_hash
from tests.browser.engine_bench import Bench

OPEN = "globalThis.store ??= await bench.openStore(person);"
SAVE = f"""async ([person, client, count]) => {{
  {OPEN}
  const body = (i) => ({{text: `Note ${{i}}`}});
  const drafts = Array.from({{length: count}}, (_, i) => ({{kind: 'note', client, body: body(i)}}));
  return store.saveMany(drafts);
}}"""
SYNC = f"""async ([person, without]) => {{
  {OPEN}
  if (without) return bench.createEngineWithout(without, {{store}}).syncNow();
  globalThis.engine ??= bench.createEngine({{store}});
  return engine.syncNow();
}}"""
OUTBOX = f"async (person) => {{ {OPEN} return store.outbox(); }}"
ENTRIES = f"async ([person, client]) => {{ {OPEN} return store.entriesOf(client); }}"

Saved = dict[str, str]


def save(page: Page, person: str, client: str, count: int = 1) -> Saved:
    """Save notes as a screen does; id -> hash of each as it was when the store called it saved."""
    return hashes(page.evaluate(SAVE, [person, client, count]))


def hashes(entries: list[dict[str, Any]]) -> Saved:
    return {entry["id"]: entry_hash(entry) for entry in entries}


def sync(page: Page, person: str, without: int = 0) -> dict[str, Any]:
    """One sync by tap; the status afterwards. `without`: a wait of the engine, in ms, that is cut short."""
    return page.evaluate(SYNC, [person, without])


def log_of(bench: Bench) -> list[dict[str, Any]]:
    """The whole log as the server keeps it, read past the server."""
    return bench.log_entries()


def check_kept(page: Page, bench: Bench, person: str, saved: Saved) -> dict[str, str]:
    """Fail when anything saved is lost, doubled or changed; what waits: id -> state."""
    log = log_of(bench)
    assert [own for own, times in Counter(entry["id"] for entry in log).items() if times > 1] == []
    stored = hashes(log)
    waiting = {row["id"]: row["state"] for row in page.evaluate(OUTBOX, person) if row["entry"]}
    assert [own for own in saved if own not in stored and own not in waiting] == [], "lost"
    assert [own for own, sound in saved.items() if stored.get(own, sound) != sound] == [], "changed"
    return waiting


def check_all_there(page: Page, bench: Bench, person: str, saved: Saved) -> None:
    """Fail unless everything is on the server and nothing waits."""
    assert check_kept(page, bench, person, saved) == {}
    assert set(saved) <= {entry["id"] for entry in log_of(bench)}
