"""Keeps what today's app and server say to each other, and what the app stores, for the versions to come.

    python -m tests.browser.record_version N

writes tests/vectors/sync/versions/N. Do it for the present N before protocol or schema change.
"""

import json
import sys
import tempfile
from datetime import date
from pathlib import Path
from typing import Any

from playwright.sync_api import Page, sync_playwright

from tests.browser.engine_bench import Bench, open_controlled, sign_in
from tests.browser.live_server import ROOT
from tests.browser.support import CHROMIUM_ARGUMENTS, PHONE, chromium_path

VERSIONS = ROOT / "tests" / "vectors" / "sync" / "versions"
STORY = "two devices of one invented person, Chromium against the server of that day"
OPEN = """async (person) => {
  delete globalThis.CompressionStream;
  globalThis.told = [];
  const listening = async (path, init) => {
    const answer = await fetch(path, init);
    const request = init?.body ? JSON.parse(new TextDecoder().decode(init.body)) : null;
    const reply = await answer.clone().json();
    if (reply.csrf) reply.csrf = 'a token';
    told.push({path, request, status: answer.status, reply});
    return answer;
  };
  globalThis.store = await bench.openStore(person);
  globalThis.engine = bench.createEngine({store, fetch: listening});
}"""
SAVE = "async (drafts) => (await store.saveMany(drafts)).map(({id}) => id)"
SYNC = "async () => { await engine.syncNow(); return told.splice(0); }"
TEMPERATURE = {
    "fields": {"site": "oral", "temperature": "36.8"},
    "units": {"temperature": "Cel"},
    "technique": [],
    "confirmed": [],
}


def drafts_of(client: str) -> list[dict[str, Any]]:
    """What is taken, what needs attention and what this server does not know yet."""
    details = {"set": {"name": "Invented Client", "access": "The blue door."}, "seen": {}}
    return [
        {"kind": "details", "client": client, "body": details},
        {"kind": "note", "client": client, "body": {"text": "Rang twice. Zoë opened."}},
        {"kind": "temperature", "client": client, "body": TEMPERATURE},
        {"kind": "pulse", "client": client, "body": {"fields": {}}},
        {"kind": "not_known_yet", "client": client, "schema": 1, "body": {"anything": ["at", "all"]}},
    ]


def tell(phone: Page, second: Page, ids: dict[str, str]) -> list[dict[str, Any]]:
    """The exchanges of two devices of one person, in order."""
    first = phone.evaluate(SAVE, drafts_of(ids["one"]))
    told = phone.evaluate(SYNC)
    second.evaluate(
        SAVE, [{"kind": "note", "client": ids["two"], "body": {"text": "From the other device."}}]
    )
    told += second.evaluate(SYNC)
    told += phone.evaluate(SYNC)
    amended = {"kind": "note", "client": ids["one"], "body": {"text": "Rang once."}, "amends": first[1]}
    phone.evaluate(SAVE, [{**amended, "reason": "A slip."}])
    phone.evaluate(SAVE, [{"kind": "note", "client": ids["two"], "body": {"text": "Not sent yet."}}])
    phone.evaluate("async () => store.saveDraft('pulse', {rate: '7'})")
    phone.evaluate("async () => store.refreshCards()")
    return told


def write(folder: Path, name: str, value: Any) -> None:
    text = json.dumps(value, indent=1, ensure_ascii=False)
    (folder / name).write_text(text + "\n", "utf-8")


def main(version: str) -> None:
    """Record a short story of two devices."""
    folder = VERSIONS / version
    folder.mkdir(parents=True)
    with tempfile.TemporaryDirectory() as place, sync_playwright() as playwright:
        bench = Bench(Path(place) / "bench")
        bench.folder.mkdir()
        bench.start()
        browser = playwright.chromium.launch(executable_path=chromium_path(), args=CHROMIUM_ARGUMENTS)
        pages = [open_controlled(browser.new_context(**PHONE), bench) for _ in range(2)]
        for page in pages:
            sign_in(page, bench)
            page.evaluate(OPEN, bench.ids["person"])
        told = tell(*pages, bench.ids)
        made = f"{date.today()} by python -m tests.browser.record_version {version}: {STORY}"
        write(folder, "exchanges.json", {"made": made, "ids": bench.ids, "exchanges": told})
        write(
            folder, "store.json", pages[0].evaluate("(id) => bench.dump(`lintel-${id}`)", bench.ids["person"])
        )
        browser.close()
        bench.stop()


if __name__ == "__main__":
    main(*sys.argv[1:])
