"""The service worker in a real browser: what it keeps, what it never touches, how it is replaced."""

import json
import re

import pytest
from playwright.sync_api import Page

from tests.browser.engine_bench import Bench, open_controlled, sign_in, wait_for

KEPT = """async () => {
  const all = {};
  for (const name of await caches.keys()) {
    all[name] = (await (await caches.open(name)).keys()).map((request) => new URL(request.url).pathname);
  }
  return all;
}"""
VERSION = """() => new Promise((resolve) => {
  const {port1, port2} = new MessageChannel();
  port1.onmessage = ({data}) => resolve(data);
  navigator.serviceWorker.controller.postMessage({type: 'VERSION'}, [port2]);
})"""
SHELL = "Bench app-"
REFUSED = (
    r"Failed to find a valid digest|ERR_BLOCKED|Uncaught \(in promise\)|Failed to update a ServiceWorker"
)


@pytest.fixture
def bench(own_bench) -> Bench:
    return own_bench


def listed(page: Page, bench: Bench) -> set[str]:
    """The addresses the server's worker says it keeps."""
    source = page.request.get(f"{bench.url}/service_worker.js").text()
    return set(json.loads(re.search(r"self\.__LINTEL = (\{.*\});", source)[1])["urls"])


def test_everything_listed_is_kept_under_one_name(bench, phone):
    page = open_controlled(phone, bench)
    ((name, paths),) = page.evaluate(KEPT).items()
    assert name == f"lintel-{page.evaluate(VERSION)}"
    assert set(paths) == listed(page, bench)
    assert {"/app/", "/offline", "/forms/blood_pressure", "/manifest.webmanifest"} <= set(paths)
    assert page.evaluate("() => bench.readyCalls") == 0, "the first worker is no update"


@pytest.mark.parametrize("how", ["offline", "server killed"])
def test_without_a_network_the_app_opens_at_any_address_of_its_own(bench, phone, watch, how):
    page = open_controlled(phone, bench)
    if how == "offline":
        phone.set_offline(True)
    else:
        bench.kill()
    watch.allow_network_errors()
    page.reload()
    assert SHELL in page.inner_text("#app")
    for path in ("/app/caseload", "/app/visit/019ab9e8-3adb-7000-8000-000000000001", "/"):
        other = phone.new_page()
        other.goto(bench.url + path)
        assert SHELL in other.inner_text("#app"), path
    other.goto(f"{bench.url}/forms/pulse")
    assert other.locator("form.measure").count() == 1
    other.goto(f"{bench.url}/somewhere/else")
    assert "No connection" in other.inner_text("h1")
    assert (
        other.evaluate("fetch('/api/v1/session').then(() => 'answered', () => 'no network')") == "no network"
    )


def test_nothing_of_the_api_or_the_sign_in_is_kept(bench, phone):
    page = open_controlled(phone, bench)
    sign_in(page, bench)
    page.evaluate("() => fetch('/api/v1/session').then((answer) => answer.json())")
    page.goto(f"{bench.url}/forms/pulse")
    for paths in page.evaluate(KEPT).values():
        assert not [path for path in paths if path.startswith(("/api", "/sign"))]
    bodies = page.evaluate("""async () => {
      const cache = await caches.open((await caches.keys())[0]);
      const answers = await Promise.all((await cache.keys()).map((request) => cache.match(request)));
      return (await Promise.all(answers.map((answer) => answer.text()))).join('');
    }""")
    assert len(bodies) > 10_000
    assert "Ann Example" not in bodies and bench.ids["person"] not in bodies


def test_a_new_version_waits_and_is_applied_once_when_asked_for(bench, phone):
    page, other = open_controlled(phone, bench), open_controlled(phone, bench)
    before, text = page.evaluate(VERSION), page.inner_text("#app")
    loads = []
    page.on("load", lambda: loads.append("page"))
    other.on("load", lambda: loads.append("other"))
    bench.new_version("second")
    page.evaluate("async () => (await bench.registered).update()")
    page.wait_for_function("() => bench.readyCalls === 1")
    assert page.evaluate(VERSION) == before and len(page.evaluate(KEPT)) == 2 and loads == []
    other.wait_for_function("() => bench.readyCalls === 1")

    with page.expect_navigation():
        page.evaluate("() => bench.applyUpdate()")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")
    assert page.inner_text("#app") != text
    assert page.evaluate(VERSION) != before
    wait_for(lambda: len(page.evaluate(KEPT)) == 1)
    other.wait_for_function("() => bench.readyCalls === 2")
    page.wait_for_timeout(300)
    assert loads == ["page"], "one reload here, none of the other window, which may hold a form"
    with other.expect_navigation():
        other.evaluate("() => bench.applyUpdate()")
    assert other.inner_text("#app") == page.inner_text("#app")


def test_a_portals_page_is_never_installed_as_the_app(bench, phone, watch):
    page = open_controlled(phone, bench)
    before = page.evaluate(KEPT)
    bench.new_version("second")
    bench.switch("portal", True)
    watch.allow(REFUSED)
    page.evaluate("async () => (await bench.registered).update().catch(() => {})")
    # Not by wait_for_function: a promise counts as true for it, whatever comes of it.
    wait_for(lambda: page.evaluate("async () => !(await bench.registered).installing"))
    page.wait_for_timeout(300)
    assert page.evaluate(KEPT) == before
    assert page.evaluate("() => bench.readyCalls") == 0
    page.reload()
    assert SHELL in page.inner_text("#app")


def test_the_way_out_worker_clears_what_was_kept_and_lets_go(bench, phone):
    page = open_controlled(phone, bench)
    page.evaluate(
        "async () => { const store = await bench.openStore('somebody'); await store.saveDraft('k', 1); }"
    )
    bench.switch("off", True)
    page.evaluate("async () => (await bench.registered).update()")
    wait_for(lambda: page.evaluate(KEPT) == {})
    page.reload()
    assert SHELL in page.inner_text("#app")
    draft = page.evaluate("async () => (await bench.openStore('somebody')).draft('k')")
    assert draft == 1, "the records are not the worker's"
