"""The lock: what guards the phone, when it closes by itself, and what stays when it does."""

import re
from datetime import UTC, datetime, timedelta

import pytest
from playwright.sync_api import Page, expect

from tests.browser import unlocking
from tests.browser.accessibility import assert_accessible
from tests.browser.support import PATIENCE, PHONE, go_offline, screenshot, sign_in
from tests.browser.therapist import Therapist

CLIENT = "Adéla Kovářová-Shaw"
OTHER = "velvet anchor drum pistachio"


@pytest.fixture
def bare(browser, watch):
    """A phone on which nobody enters a passphrase unasked."""
    opened = []

    def open_one(**options):
        context = browser.new_context(**{**PHONE, **options})
        context.set_default_timeout(PATIENCE)
        watch.over(context)
        opened.append(context)
        return context

    yield open_one
    for context in opened:
        context.close()


def locked(page: Page):
    return page.get_by_role("heading", name="Locked", exact=True)


def unlock(page: Page, passphrase: str = unlocking.PASSPHRASE) -> None:
    expect(locked(page)).to_be_visible()
    unlocking.unlock(page, passphrase)


def begin(page: Page, url: str) -> Therapist:
    sign_in(page, url)
    expect(page.get_by_role("heading", name="Guard this phone")).to_be_visible()
    unlocking.choose(page)
    expect(page.get_by_text("All synced at").first).to_be_visible()
    return Therapist(page, url)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_passphrase_is_suggested_checked_and_asked_for(bare, server, scheme):
    page = bare(color_scheme=scheme).new_page()
    sign_in(page, server.url)
    expect(page.get_by_role("heading", name="Guard this phone")).to_be_visible()
    suggestion = page.locator(".passphrase").inner_text()
    assert len(suggestion.split()) == 4
    page.get_by_role("button", name="Suggest another").click()
    expect(page.locator(".passphrase")).not_to_have_text(suggestion)
    assert_accessible(page)
    screenshot(page, f"passphrase-{scheme}", whole=True)
    first, again = page.get_by_label("Passphrase", exact=True), page.get_by_label("The same again")
    save = page.get_by_role("button", name="Lock with this passphrase")
    first.fill("482915")
    again.fill("482915")
    save.click()
    expect(page.get_by_role("alert")).to_contain_text("number is too easy to guess")
    expect(first).to_be_focused()
    screenshot(page, f"passphrase-refused-{scheme}", whole=True)
    first.fill(unlocking.PASSPHRASE)
    save.click()
    expect(page.get_by_role("alert")).to_contain_text("do not agree")
    again.fill(unlocking.PASSPHRASE)
    page.evaluate(unlocking.SEEM_SLOW)
    save.click()
    expect(page.get_by_text("All synced at").first).to_be_visible()
    page.evaluate(unlocking.AS_BEFORE)

    page.reload()
    expect(locked(page)).to_be_visible()
    expect(page.get_by_label("Passphrase", exact=True)).to_be_focused()
    assert_accessible(page)
    screenshot(page, f"locked-{scheme}")
    unlock(page, OTHER)
    expect(page.get_by_role("alert")).to_contain_text("does not open it")
    unlock(page, unlocking.PASSPHRASE.upper())
    expect(page.get_by_role("heading", level=1)).to_contain_text(re.compile(r"\d"))


def test_wrong_passphrases_have_to_wait_and_nothing_is_lost(bare, own_server, watch):
    page = bare().new_page()
    therapist = begin(page, own_server.url)
    therapist.open_client(CLIENT)
    therapist.start_visit()
    go_offline(page.context, watch)
    therapist.record_pulse("71")
    now = datetime.now(UTC)
    page.clock.set_fixed_time(now)  # the wait ends when the test says so
    page.reload()
    for _ in range(3):
        unlock(page, OTHER)
        expect(page.get_by_role("alert")).to_be_visible()
    expect(page.get_by_role("alert")).to_contain_text("Wait 1 s")
    expect(page.get_by_role("button", name="Unlock", exact=True)).to_be_disabled()
    page.reload()  # a new start is no way round
    unlock(page)
    expect(page.get_by_role("alert")).to_contain_text("Too many wrong tries. Wait 1 s")
    expect(page.get_by_role("button", name="Unlock", exact=True)).to_be_disabled()
    page.clock.set_fixed_time(now + timedelta(seconds=1))
    expect(page.get_by_role("button", name="Unlock", exact=True)).to_be_enabled()
    unlocking.unlock(page)
    expect(page.locator("a.status")).to_contain_text("2 not sent yet")
    page.context.set_offline(False)
    therapist.wait_for_sync()


SLOW_TO_KEEP = """() => {
  const put = IDBObjectStore.prototype.put;
  IDBObjectStore.prototype.put = function (row, ...more) {
    const over = row?.value?.waitUntil ?? 0;
    while (Date.now() <= over);
    return put.call(this, row, ...more);
  };
}"""


def test_a_wait_that_is_over_before_it_is_shown_keeps_nobody_out(bare, own_server):
    """A phone may take longer to keep the count of wrong tries than it then has to wait."""
    page = bare().new_page()
    begin(page, own_server.url)
    page.reload()
    expect(locked(page)).to_be_visible()
    page.evaluate(SLOW_TO_KEEP)
    for _ in range(3):
        unlock(page, OTHER)
        expect(page.get_by_role("button", name="Unlock", exact=True)).to_be_enabled()
    expect(page.get_by_role("alert")).to_contain_text("does not open it")
    unlock(page)
    expect(page.get_by_role("heading", level=1)).to_contain_text(re.compile(r"\d"))


def test_it_locks_by_itself_and_gives_back_what_was_being_typed(bare, own_server):
    page = bare().new_page()
    page.clock.install()
    therapist = begin(page, own_server.url)
    therapist.open_client(CLIENT)
    therapist.start_visit()
    therapist.open_part("Temperature")
    therapist.choose("Mouth")
    therapist.enter("Temperature", "36.4")
    page.clock.fast_forward(4 * 60_000)
    expect(locked(page)).to_have_count(0)
    page.clock.fast_forward(70_000)
    expect(locked(page)).to_be_visible()
    expect(page.get_by_text(CLIENT.split()[0])).to_have_count(0)
    unlock(page)
    expect(page.get_by_role("textbox", name="Temperature")).to_have_value("36.4")
    expect(page.locator("input[name=site][value=oral]")).to_be_checked()


def test_locking_one_window_locks_the_others(bare, own_server):
    context = bare()
    first, second = context.new_page(), context.new_page()
    begin(first, own_server.url)
    second.goto(f"{own_server.url}/app/phone")
    unlock(second)
    second.get_by_role("button", name="Lock now").click()
    expect(locked(second)).to_be_visible()
    expect(locked(first)).to_be_visible()


def test_the_passphrase_is_changed_and_the_old_one_no_longer_opens(bare, own_server):
    page = bare().new_page()
    begin(page, own_server.url)
    page.get_by_role("link", name="Phone").click()
    page.get_by_text("Change the passphrase").click()
    screenshot(page, "lock-settings", whole=True)
    page.get_by_label("Passphrase in use").first.fill(OTHER)
    page.get_by_label("Passphrase", exact=True).fill(OTHER)
    page.get_by_label("The same again").fill(OTHER)
    page.evaluate(unlocking.SEEM_SLOW)
    page.get_by_role("button", name="Change it").click()
    expect(page.get_by_role("alert").first).to_contain_text("not the passphrase in use")
    page.get_by_label("Passphrase in use").first.fill(unlocking.PASSPHRASE)
    page.get_by_role("button", name="Change it").click()
    expect(page.get_by_text("The passphrase is changed.")).to_be_visible()
    page.reload()
    unlock(page)
    expect(page.get_by_role("alert")).to_contain_text("does not open it")
    unlock(page, OTHER)
    expect(page.get_by_role("heading", name="This phone", exact=True)).to_be_visible()


def test_a_passkey_of_the_phone_unlocks_too(bare, own_server, watch):
    """WebAuthn Level 3, PRF extension, by Chromium's virtual authenticator."""
    page = bare().new_page()
    tools = page.context.new_cdp_session(page)
    tools.send("WebAuthn.enable")
    authenticator = {"protocol": "ctap2", "ctap2Version": "ctap2_1", "transport": "internal", "hasPrf": True}
    authenticator |= {"hasUserVerification": True, "isUserVerified": True, "hasResidentKey": True}
    tools.send("WebAuthn.addVirtualAuthenticator", {"options": authenticator})
    begin(page, own_server.url.replace("127.0.0.1", "localhost"))  # no passkey belongs to a bare address
    page.get_by_role("link", name="Phone").click()
    page.get_by_text("Unlock with a fingerprint or face").click()
    page.get_by_label("Passphrase in use").last.fill(unlocking.PASSPHRASE)
    page.get_by_role("button", name="Set up a passkey").click()
    expect(page.get_by_text("The passkey of this phone unlocks Lintel too.")).to_be_visible()
    go_offline(page.context, watch)
    page.reload()
    page.get_by_role("button", name="Unlock with the passkey").click()
    expect(page.get_by_role("heading", name="This phone", exact=True)).to_be_visible()
    page.get_by_text("Unlock with a fingerprint or face").click()
    page.get_by_role("button", name="Use no passkey").click()
    expect(page.get_by_text("Only the passphrase unlocks")).to_be_visible()
    page.reload()
    expect(locked(page)).to_be_visible()
    expect(page.get_by_role("button", name="Unlock with the passkey")).to_have_count(0)


def test_a_forgotten_passphrase_never_costs_unsent_work(bare, own_server, watch):
    page = bare().new_page()
    therapist = begin(page, own_server.url)
    therapist.open_client(CLIENT)
    therapist.start_visit()
    therapist.wait_for_sync()
    go_offline(page.context, watch)
    therapist.record_pulse("71")
    page.reload()
    page.get_by_text("Forgotten, or not your phone?").click()
    expect(page.get_by_text("1 entry waits on this phone")).to_be_visible()
    screenshot(page, "forgotten-with-unsent", whole=True)
    expect(page.get_by_role("button", name="Remove it from this phone")).to_have_count(0)
    page.context.set_offline(False)
    unlocking.unlock(page)
    therapist.wait_for_sync()

    page.reload()
    page.get_by_text("Forgotten, or not your phone?").click()
    page.get_by_role("button", name="Remove it from this phone").click()
    page.wait_for_url("**/sign-in")
    sign_in(page, own_server.url)
    expect(page.get_by_role("heading", name="Guard this phone")).to_be_visible()
    unlocking.choose(page, OTHER)
    expect(page.get_by_text("All synced at").first).to_be_visible()
    therapist.open_client(CLIENT)
    expect(therapist.part("Pulse")).to_contain_text("71 /min")


def test_another_person_gets_a_lock_of_their_own(bare, own_server):
    page = bare().new_page()
    begin(page, own_server.url)
    page.reload()
    page.get_by_text("Forgotten, or not your phone?").click()
    page.get_by_role("button", name="Sign in as someone else").click()
    page.wait_for_url("**/sign-in")
    sign_in(page, own_server.url, "kasper@larkmere.example")
    expect(page.get_by_role("heading", name="Guard this phone")).to_be_visible()
    unlocking.choose(page, OTHER)
    expect(page.get_by_text("All synced at").first).to_be_visible()
    page.reload()
    unlock(page)
    expect(page.get_by_role("alert")).to_contain_text("does not open it")
