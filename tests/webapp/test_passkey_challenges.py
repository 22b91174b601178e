"""Handing out passkey challenges: how many, to whom, and that old ones go."""

import secrets

from sqlalchemy import func, select

from tests.webapp.authenticator import Authenticator
from tests.webapp.support import House
from tests.webapp.test_own_account import token_in
from tests.webapp.test_passkeys import add, asked, sign_in
from webapp.storage import Person, passkeys
from webapp.storage.attempts import address_key, attempt_key
from webapp.storage.models import PasskeyChallenge
from webapp.storage.passkeys import MOST_OF_PERSON, keep_challenge


def ask_for(browser, address: str, page: str):
    """A challenge, however the answer turns out."""
    return browser.post(f"{address}/options", headers={"X-CSRFToken": token_in(browser.get(page).text)})


def fill_up(house: House, asked_by: Person | str, most: int) -> None:
    """Have somebody keep as many challenges as they may, a second apart."""
    for _ in range(most):
        house.clock.forward(seconds=1)
        keep_challenge(house.database, secrets.token_bytes(32), asked_by, house.clock())


def test_an_address_is_given_so_many_challenges_and_then_waits_for_the_oldest(house: House, monkeypatch):
    monkeypatch.setattr(passkeys, "MOST_OF_ADDRESS", 6)
    fill_up(house, "127.0.0.1", 6)
    browser = house.app.test_client()
    refused = ask_for(browser, "/sign-in/passkey", "/sign-in")
    # The oldest was kept five seconds ago and lives for five minutes; one second of rounding up.
    assert (refused.status_code, refused.headers["Retry-After"]) == (429, str(300 - 5 + 1))
    assert ask_for(browser, "/sign-in/passkey", "/sign-in").status_code == 429
    with house.database.reading() as session:
        assert session.scalar(select(func.count()).select_from(PasskeyChallenge)) == 6
    house.clock.forward(minutes=4, seconds=56)
    assert ask_for(browser, "/sign-in/passkey", "/sign-in").status_code == 200
    assert ask_for(browser, "/sign-in/passkey", "/sign-in").status_code == 200
    assert ask_for(browser, "/sign-in/passkey", "/sign-in").status_code == 429


def test_other_addresses_and_people_who_are_signed_in_do_not_wait(house: House, ann, monkeypatch):
    monkeypatch.setattr(passkeys, "MOST_OF_ADDRESS", 3)
    fill_up(house, "127.0.0.1", 3)
    keep_challenge(house.database, secrets.token_bytes(32), "192.0.2.1", house.clock())
    assert ask_for(ann.browser, "/account/passkey", "/account").status_code == 200


def test_one_who_is_signed_in_waits_as_well_and_another_does_not(house: House, ann):
    fill_up(house, ann.person, MOST_OF_PERSON)
    assert ask_for(ann.browser, "/account/passkey", "/account").status_code == 429
    assert ask_for(house.phone("ben").browser, "/account/passkey", "/account").status_code == 200


def test_an_answered_challenge_does_not_count(house: House, ann, monkeypatch):
    key = Authenticator()
    assert add(ann, key).status_code == 303
    monkeypatch.setattr(passkeys, "MOST_OF_ADDRESS", 2)
    assert [sign_in(house, key)[1].status_code for _ in range(4)] == [302] * 4


def test_the_addresses_of_one_ipv6_network_count_together():
    """A /64 is what a line is given (RFC 6177 speaks of /48 to /64); from memory."""
    one, other = (address_key("challenge", f"2001:db8:1:2::{last}") for last in ("1", "ffff:1"))
    assert one == other != address_key("challenge", "2001:db8:1:3::1")
    assert address_key("passkey", "192.0.2.1") == attempt_key("passkey", "192.0.2.1")
    apart = {address_key("link", address) for address in ("::ffff:192.0.2.1", "::ffff:192.0.2.2", "", "?")}
    assert len(apart) == 4


def test_old_challenges_are_cleared_away(house: House):
    for _ in range(3):
        asked(house.app.test_client(), "/sign-in/passkey", "/sign-in")
        house.clock.forward(minutes=6)
    with house.database.reading() as session:
        assert len(session.scalars(select(PasskeyChallenge)).all()) == 1
