"""What a benchmark notes inside the app's page: moments by the page's own clock, and what the store tells."""

from playwright.sync_api import CDPSession, Page

# `seen` holds when each of these first stood on the screen since it was last asked to look; `told` what the
# store said to other windows, and when.
NOTES = """
globalThis.seen = {};
globalThis.told = [];
const looks = {
  synced: () => /All synced at/.test(document.querySelector('a.status')?.textContent ?? ''),
  day: () => document.querySelectorAll('main .round-line').length > 0,
  caseload: () => document.querySelector('h1')?.textContent === 'Caseload'
    && document.querySelectorAll('main ul.lines a.line').length > 0,
  client: () => [...document.querySelectorAll('h2')].some((each) => each.textContent === 'Before you knock'),
};
const look = () => {
  for (const [name, stands] of Object.entries(looks)) {
    if (seen[name] !== undefined || !stands()) continue;
    seen[name] = null;
    requestAnimationFrame(() => setTimeout(() => { seen[name] ??= performance.now(); }));
  }
};
new MutationObserver(look).observe(document, {childList: true, subtree: true, characterData: true});
globalThis.listen = (name) => {
  new BroadcastChannel(name).onmessage = ({data}) => told.push([data.type, performance.now()]);
};
"""
LINES = "() => document.querySelectorAll('main ul.lines a.line').length"


def now(page: Page) -> float:
    return page.evaluate("() => performance.now()")


def look_anew(page: Page) -> None:
    page.evaluate("() => { seen = {}; told.length = 0; }")


def when_seen(page: Page, name: str, patience: float = 600_000) -> float:
    """Wait for it; the moment it stood on the screen, by the page's clock."""
    page.wait_for_function("(name) => seen[name] > 0", arg=name, polling=100, timeout=patience)
    return page.evaluate("(name) => seen[name]", name)


def when_told(page: Page, kind: str, times: int = 1, patience: float = 600_000) -> float:
    """Wait until the store told something so many times; the moment of the last."""
    enough = "([kind, times]) => told.filter(([each]) => each === kind).length >= times"
    page.wait_for_function(enough, arg=[kind, times], polling=100, timeout=patience)
    found = "([kind, times]) => told.filter(([each]) => each === kind)[times - 1][1]"
    return page.evaluate(found, [kind, times])


def heap(devtools: CDPSession) -> float:
    """Bytes that live in the page's heap after a collection."""
    devtools.send("HeapProfiler.collectGarbage")
    return devtools.send("Runtime.getHeapUsage")["usedSize"]
