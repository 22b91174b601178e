"""What lies on a phone that nobody has unlocked: no name, address, number or note, in any store or file.

Case 36 of the project's attack list. The client's facts searched for are the demo's own.
"""

import json
import re
from collections.abc import Iterator
from pathlib import Path

from playwright.sync_api import Page

from demo_home_visits import people
from tests.browser.support import wait_for_draft
from tests.browser.therapist import Therapist

CLIENT = "Adéla Kovářová-Shaw"
NOTE = "Zwetschgenknoedel before the heron flew"
SCENARIO = Path(people.__file__).parent / "scenario"
# Rows as another program on the phone would see them: bytes as hexadecimal, beside their text.
EVERYTHING = """async () => {
  const seen = [];
  const answered = (request) => new Promise((done) => { request.onsuccess = () => done(request.result); });
  const show = (value) => JSON.stringify(value, (_key, each) => {
    if (each instanceof Map) return [...each];
    if (!(each instanceof Uint8Array)) return each;
    return {bytes: [...each].map((byte) => byte.toString(16).padStart(2, '0')).join(''),
      text: new TextDecoder('latin1').decode(each), unicode: new TextDecoder().decode(each)};
  });
  for (const {name} of await indexedDB.databases()) {
    const db = await answered(indexedDB.open(name));
    for (const room of db.objectStoreNames) {
      const rows = await answered(db.transaction(room).objectStore(room).getAll());
      for (const row of rows) seen.push([`${name}/${room}`, show(row)]);
    }
    db.close();
  }
  for (const cache of await caches.keys()) {
    const kept = await caches.open(cache);
    for (const request of await kept.keys()) {
      seen.push([`cache ${request.url}`, await (await kept.match(request)).text()]);
    }
  }
  for (const area of [localStorage, sessionStorage]) seen.push(['storage', JSON.stringify({...area})]);
  return seen;
}"""


def texts(value: object) -> Iterator[str]:
    """Every text in a JSON value."""
    if isinstance(value, dict):
        for each in value.values():
            yield from texts(each)
    elif isinstance(value, list):
        for each in value:
            yield from texts(each)
    elif isinstance(value, str):
        yield value


def secrets() -> set[str]:
    """What of the scenario must not be found: names, addresses, telephone numbers, notes."""
    found: set[str] = {NOTE}
    for path in SCENARIO.glob("*.json"):
        found |= {text for text in texts(json.loads(path.read_text("utf-8"))) if telling(text)}
    names = {word for text in found if text.istitle() for word in text.split() if len(word) > 7}
    return found | names


def telling(text: str) -> bool:
    """Words of the scenario that stand for one person; what the app's own text also says is none."""
    return len(text) >= 10 and (" " in text or re.search(r"\d{4}", text) is not None)


def found_in(data: bytes, wanted: set[str]) -> list[str]:
    """Those of the texts that lie in some bytes, in any way a browser writes text."""
    encodings = ("utf-8", "utf-16-le", "latin-1")
    return [text for text in wanted if any(text.encode(name, "ignore") in data for name in encodings)]


def app_says() -> bytes:
    """The app's own words, which the scenario also uses here and there."""
    static = Path(__file__).resolve().parents[2] / "static"
    files = [*static.glob("built/*.js"), *static.glob("clinical/**/*.json")]
    return b"".join(path.read_bytes() for path in files)


def test_the_search_would_find_what_lies_open(tmp_path):
    """The check itself: each way of writing is noticed."""
    for encoding in ("utf-8", "utf-16-le"):
        assert found_in(b"\x00" + f"x{CLIENT}y".encode(encoding), {CLIENT, NOTE}) == [CLIENT]
    assert len(secrets()) > 150
    assert CLIENT in secrets()


def record_a_visit(page: Page, url: str) -> Therapist:
    therapist = Therapist(page, url).begin()
    therapist.open_client(CLIENT)
    therapist.start_visit()
    therapist.record_pulse("64")
    therapist.back_to_visit()
    therapist.open_part("Temperature")
    therapist.choose("Mouth")
    therapist.enter("Temperature", "36.4")
    wait_for_draft(page)
    page.goto(page.url.replace("/temperature", "/finish"))
    page.get_by_role("textbox", name="Anything to add").fill(NOTE)
    return therapist


def test_no_store_of_the_browser_holds_anything_readable(open_profile, own_server, watch):
    """While unlocked, and after the browser was closed: every row, cache and file of the profile."""
    wanted = {text for text in secrets() if not found_in(app_says(), {text})}
    profile = open_profile("phone")
    page = profile.open().new_page()
    record_a_visit(page, own_server.url)
    rows = page.evaluate(EVERYTHING)
    assert sum(1 for place, _ in rows if place.endswith("/entries")) > 50, "the caseload is on the phone"
    open_rows = {place: found for place, text in rows if (found := found_in(text.encode(), wanted))}
    assert open_rows == {}
    profile.close()

    lying_open = {}
    for path in profile.folder.rglob("*"):
        if path.is_file() and (found := found_in(path.read_bytes(), wanted)):
            lying_open[path.relative_to(profile.folder).as_posix()] = found
    assert lying_open == {}
