"""What a visit asks of one hand: taps and keystrokes, counted in the page as a driven browser makes them."""

import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

from tests.benchmarks.figures import markdown
from tests.browser.live_server import LiveServer
from tests.browser.support import CHROMIUM_ARGUMENTS, PHONE, chromium_path
from tests.browser.unlocking import keep_unlocked
from tests.browser.whole_visit import Visitor, first_visit, follow_up, vital_signs

HEADINGS = ("visit, from the caseload to the signature", "taps", "keystrokes", "seconds as driven")
NEW, KNOWN = "Margery Fennimore-Cole", "Þórdís"
# A field is tapped once and then typed into, a list of choices is tapped to open it and once more to choose.
COUNT_HANDS = """
const typed = (one) => one.matches?.('textarea, input:not([type="radio"]):not([type="checkbox"])');
const lengths = new WeakMap();
const counts = (one) => !typed(one) && !one.matches('select');
addEventListener('pointerdown', ({target}) => counts(target) && counted('taps', 1), true);
addEventListener('focusout', ({target}) => lengths.delete(target), true);
addEventListener('change', ({target}) => target.matches('select') && counted('taps', 2), true);
addEventListener('input', ({target}) => {
  if (!typed(target)) return;
  if (!lengths.has(target)) counted('taps', 1);
  counted('keys', Math.abs(target.value.length - (lengths.get(target) ?? 0)));
  lengths.set(target, target.value.length);
}, true);
"""


def only_vital_signs(visitor: Visitor, client: str) -> None:
    visitor.open_client(client)
    visitor.start_visit()
    vital_signs(visitor, both_arms=False)
    visitor.finish("Read the conclusion")


VISITS: tuple[tuple[str, str, Callable[[Visitor, str], None]], ...] = (
    ("the commonest path: five vital signs and how the client seems", KNOWN, only_vital_signs),
    ("a follow-up: the same, 4 activities asked, 2 goals reviewed", KNOWN, follow_up),
    ("a first visit with every part, 1 activity, 1 goal, 1 room, 1 problem", NEW, first_visit),
)


def hands(folder: Path) -> str:
    """Go through each visit on a server of its own; return the table."""
    rows = []
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium_path(), args=CHROMIUM_ARGUMENTS)
        for number, (words, client, visit) in enumerate(VISITS):
            server = LiveServer(folder / str(number)).start()
            count, seconds = count_one(browser, server.url, lambda visitor, v=visit, c=client: v(visitor, c))
            server.stop()
            rows.append((words, str(count["taps"]), str(count["keys"]), f"{seconds:.0f}"))
        browser.close()
    return markdown(HEADINGS, rows)


def count_one(browser: Browser, url: str, visit: Callable[[Visitor], None]) -> tuple[Counter[str], float]:
    count: Counter[str] = Counter()
    context = browser.new_context(**PHONE)
    keep_unlocked(context)
    context.expose_binding("counted", lambda _, what, number: count.update({what: number}))
    context.add_init_script(COUNT_HANDS)
    visitor = Visitor(context.new_page(), url).begin()
    count.clear()
    start = time.perf_counter()
    visit(visitor)
    seconds = time.perf_counter() - start
    context.close()
    return count, seconds
