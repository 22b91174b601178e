"""A passkey from end to end in Chromium, with its own virtual authenticator; and a link to a new password.

A passkey belongs to a host name, so the phone goes to localhost and not to 127.0.0.1.
"""

from playwright.sync_api import BrowserContext, Page, expect

from demo_home_visits import people
from tests.browser.accessibility import assert_accessible
from tests.browser.support import screenshot, sign_in

RESIDENT = {"protocol": "ctap2", "transport": "internal", "hasResidentKey": True, "hasUserVerification": True,
            "isUserVerified": True, "automaticPresenceSimulation": True}  # fmt: skip


# The offer under the name's field would be answered before a button can be pressed.
NO_OFFER = """if (sessionStorage.getItem('no offer')) {
  PublicKeyCredential.isConditionalMediationAvailable = async () => false;
}"""


def add_authenticator(page: Page) -> None:
    """Give a page Chromium's own authenticator, which is touched by itself."""
    session = page.context.new_cdp_session(page)
    session.send("WebAuthn.enable", {"enableUI": False})
    session.send("WebAuthn.addVirtualAuthenticator", {"options": RESIDENT})


def test_a_passkey_is_added_and_signs_in(own_server, phone: BrowserContext, watch):
    url = own_server.url.replace("127.0.0.1", "localhost")
    page = phone.new_page()
    page.add_init_script(NO_OFFER)
    add_authenticator(page)
    sign_in(page, url)
    page.goto(f"{url}/account")
    adding = page.locator("form[data-passkey]")
    adding.get_by_label("What you call it").fill("This phone")
    adding.get_by_label("Present password").fill(people.PASSWORD)
    adding.get_by_role("button", name="Add a passkey").click()
    expect(page.get_by_role("status").first).to_contain_text("The passkey is added.")
    expect(page.get_by_text("You have one passkey.")).to_be_visible()
    assert_accessible(page)
    screenshot(page, "account", whole=True)
    page.evaluate("() => sessionStorage.setItem('no offer', 'yes')")
    page.get_by_role("button", name="Sign out everywhere").click()
    page.get_by_role("button", name="Sign in with a passkey").click()
    page.wait_for_url(f"{url}/app/**")
    page.goto(f"{url}/account")
    expect(page.get_by_text("Added", exact=False).filter(has_text="last used")).to_have_count(1)
    # Where the browser offers passkeys under the name's field, nothing has to be pressed.
    page.evaluate("() => sessionStorage.clear()")
    page.get_by_role("button", name="Sign out everywhere").click()
    page.wait_for_url(f"{url}/app/**")


def test_without_an_authenticator_that_knows_them_a_person_is_told(own_server, phone: BrowserContext, watch):
    """And at an address without a host name, what is the matter."""
    page = phone.new_page()
    page.goto(f"{own_server.url}/sign-in")
    page.get_by_role("button", name="Sign in with a passkey").click()
    expect(page.get_by_text("Passkeys do not work at this address")).to_be_visible()
    assert_accessible(page)
    screenshot(page, "sign_in_passkey", whole=True)


def test_the_code_of_a_link_leaves_the_address(own_server, phone: BrowserContext, watch):
    page = phone.new_page()
    page.goto(f"{own_server.url}/sign-in/new-password#abc-def_123")
    expect(page.get_by_label("New password")).to_be_visible()
    assert page.url == f"{own_server.url}/sign-in/new-password"
    assert page.get_by_label("Code of the link").input_value() == "abc-def_123"
    expect(page.get_by_label("Code of the link")).to_be_hidden()
    assert_accessible(page)
    watch.allow("the server responded with a status of 422")
    page.get_by_label("New password").fill("seven lamps below water")
    page.get_by_role("button", name="Keep the new password").click()
    expect(page.get_by_text("This link leads nowhere any more")).to_be_visible()
