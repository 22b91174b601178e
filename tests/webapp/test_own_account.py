"""/account: the password, links to a new one, sessions and devices of one's own."""

import re

import pytest
from sqlalchemy import select

from tests.webapp.support import NOW, PASSWORD, House
from tests.webapp.support_audit import actions
from webapp.storage.devices import set_revoked
from webapp.storage.models import Passkey, PasswordLink, SignIn
from webapp.storage.passwords import TOO_COMMON, TOO_SHORT, why_unfit

NEW = "seven lamps below water"


def token_in(text: str) -> str:
    return text.split('name="csrf_token"')[1].split('value="')[1].split('"')[0]


def press(phone, act: str, path: str = "/account", **asked):
    """Send one of the page's forms, with the token that the page holds."""
    data = {"csrf_token": token_in(phone.browser.get(path).text), "act": act, **asked}
    return phone.browser.post(path, data=data)


def alive(phone) -> int:
    return phone.browser.get("/api/v1/session").status_code


def test_a_new_password_ends_every_other_session_and_makes_a_new_token(house: House, ann):
    other, before = house.phone("ann"), ann.browser.get_cookie("lintel_session").value
    answer = press(ann, "password", password=PASSWORD, chosen=NEW)
    assert (answer.status_code, answer.location) == (303, "/account")
    assert ann.browser.get_cookie("lintel_session").value != before
    assert (alive(ann), alive(other)) == (200, 401)
    assert "Every other session has ended." in ann.browser.get("/account").text
    assert house.phone("ann", sign_in=False).sign_in().status_code == 401
    assert house.phone("ann", sign_in=False).sign_in(password=NEW).status_code == 302
    assert "password_changed" in actions(house)


def test_what_waits_on_a_phone_whose_session_ended_is_sent_after_the_next_sign_in(house: House, ann):
    entry = ann.entry()
    press(house.phone("ann"), "session/end-all")
    assert ann.post(ann.message([entry])).status_code == 401
    ann.sign_in()
    assert ann.verdict(entry)["verdict"] == "applied"


def test_the_session_keeps_the_device_it_is_used_from(house: House, ann):
    ann.sync()
    press(ann, "password", password=PASSWORD, chosen=NEW)
    set_revoked(house.database, house.organisation, ann.device, NOW)
    assert ann.browser.get("/account").status_code == 403


@pytest.mark.parametrize(
    ("chosen", "said"),
    [
        ("short", TOO_SHORT), ("1" * 11, TOO_SHORT), ("i am so ok", TOO_SHORT),
        ("password1234", TOO_COMMON), ("a" * 40, TOO_COMMON), ("qwertyuiop12", TOO_COMMON),
        ("ann@example.org!", TOO_COMMON), ("", "Enter the new password."), (PASSWORD, "This is the password"),
    ],
)  # fmt: skip
@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_an_unfit_password_is_refused_at_its_field(house: House, ann, chosen, said):
    answer = press(ann, "password", password=PASSWORD, chosen=chosen)
    assert answer.status_code == 422
    assert said in answer.text and 'id="error-password-chosen"' in answer.text
    assert house.phone("ann", sign_in=False).sign_in().status_code == 302


@pytest.mark.parametrize(
    "chosen", [NEW, "x7Kp!mQz2#Lw", "Straße mit vier Lampen", "灯 七 水 下 走 路 去 看 海 边 日 出"]
)
def test_a_fit_password_needs_no_kind_of_character(chosen):
    assert why_unfit(chosen, ["Ann Example"]) is None


def test_every_common_password_that_is_long_enough_is_refused():
    """The list is zxcvbn's: 30,000 passwords, the most frequent of published leaks; few are that long."""
    from zxcvbn.frequency_lists import FREQUENCY_LISTS

    long = [each for each in FREQUENCY_LISTS["passwords"] if len(each) >= 12]
    assert len(FREQUENCY_LISTS["passwords"]) > 25_000 and len(long) > 20
    assert [each for each in long if why_unfit(each) is None] == []


def test_guessing_the_present_password_must_wait_and_blocks_no_sign_in(house: House, ann):
    answers = [press(ann, "password", password="wrong", chosen=NEW) for _ in range(6)]
    assert [answer.status_code for answer in answers] == [422] * 5 + [429]
    assert "This is not your present password." in answers[0].text
    assert "Retry-After" in answers[-1].headers
    assert house.phone("ann").browser.get("/account").status_code == 200
    house.clock.forward(seconds=31)
    assert press(ann, "password", password=PASSWORD, chosen=NEW).status_code == 303
    assert actions(house).count("password_refused") == 5


def link_for(house: House, name: str = "ann") -> str:
    """A link that an administrator's page shows; what stands behind its #."""
    if "otto" not in house.people:
        house.people["otto"] = house.add_person("otto", house.organisation, "administrator")
    otto = house.phone("otto")
    page = press(otto, "people/reset-link", "/office/people", person=house.people[name].id)
    assert page.status_code == 200 and page.headers["Cache-Control"] == "no-store"
    return re.search(r"http://localhost/sign-in/new-password#([\w-]{43})</code>", page.text).group(1)


def use(house: House, token: str, chosen: str = NEW):
    browser = house.app.test_client()
    page = browser.get("/sign-in/new-password")
    data = {"csrf_token": token_in(page.text), "token": token, "chosen": chosen}
    return browser.post("/sign-in/new-password", data=data)


def test_a_link_takes_a_new_password_once(house: House, ann):
    token = link_for(house)
    assert use(house, token, "short").status_code == 422
    answer = use(house, token)
    assert (answer.status_code, answer.location) == (303, "/sign-in")
    assert alive(ann) == 401
    assert house.phone("ann", sign_in=False).sign_in(password=NEW).status_code == 302
    again = use(house, token, "another four word thing")
    assert again.status_code == 422 and "This link leads nowhere any more" in again.text
    assert house.phone("ann", sign_in=False).sign_in(password=NEW).status_code == 302
    assert {"link_made", "password_changed", "sessions_ended", "link_refused"} <= set(actions(house))


def test_only_the_hash_of_a_links_token_is_kept(house: House):
    token = link_for(house)
    with house.database.reading() as session:
        [kept] = session.scalars(select(PasswordLink.token_hash))
    assert len(kept) == 64 and token not in kept


def test_a_link_is_good_for_a_day_and_a_newer_one_ends_it(house: House):
    first, second = link_for(house), link_for(house)
    assert use(house, first).status_code == 422
    house.clock.forward(hours=24)
    assert use(house, second).status_code == 422
    third = link_for(house)
    house.clock.forward(hours=23, minutes=59)
    assert use(house, third).status_code == 303


def test_the_links_page_names_nobody_and_is_not_kept(house: House):
    page = house.app.test_client().get("/sign-in/new-password")
    assert page.headers["Cache-Control"] == "no-store"
    assert page.headers["Referrer-Policy"] == "same-origin"
    assert "Example" not in page.text and "example.org" not in page.text


def test_a_link_removes_the_passkeys(house: House, ann):
    with house.database.writing() as session:
        session.add(
            Passkey(organisation_id=house.organisation, credential_hash="0" * 64, user_id=ann.person.id,
                    credential_id="x", public_key=b"x", sign_count=0, backed_up=False, name="key",
                    created_at=NOW)
        )  # fmt: skip
    assert use(house, link_for(house)).status_code == 303
    with house.database.reading() as session:
        assert session.scalars(select(Passkey)).all() == []
    assert "passkey_removed" in actions(house)


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_guessing_links_must_wait(house: House):
    answers = [use(house, "x" * 43).status_code for _ in range(21)]
    assert answers == [422] * 20 + [429]


def test_no_link_for_a_closed_account(house: House, ann):
    from webapp.storage import set_active

    token = link_for(house)
    set_active(house.database, ann.person, False)
    assert use(house, token).status_code == 422
    otto = house.phone("otto")
    assert press(otto, "people/reset-link", "/office/people", person=ann.person.id).status_code == 422


def test_the_command_makes_a_link_too(house: House, run):
    done, told, _ = run("person", "reset-link", "ann@example.org")
    assert done == 0
    last = told.splitlines()[-1]
    token = re.fullmatch(r"https://lintel\.example/sign-in/new-password#([\w-]{43})", last).group(1)
    # The command goes by the real clock, this house by its own.
    with house.database.writing() as session:
        session.scalars(select(PasswordLink)).one().expires_at = house.clock().replace(year=2027)
    assert use(house, token).status_code == 303


def test_sessions_are_listed_and_one_can_be_ended(house: House, ann):
    other = house.phone("ann")
    other.sync()
    text = ann.browser.get("/account").text
    assert "A phone" in text and "A browser that has not synced" in text
    [own] = re.findall(r'name="session" value="(\w+)"', text)
    assert press(ann, "session/end", session=own).status_code == 303
    assert (alive(ann), alive(other)) == (200, 401)
    assert press(ann, "session/end", session=own).status_code == 404
    assert actions(house).count("session_ended") == 1


def test_nobody_ends_another_persons_session(house: House, ann):
    with house.database.reading() as session:
        own = session.scalars(select(SignIn.token_hash)).one()[:16]
    assert press(house.phone("ben"), "session/end", session=own).status_code == 404
    assert alive(ann) == 200


def test_signing_out_everywhere_includes_here(house: House, ann):
    other = house.phone("ann")
    answer = press(ann, "session/end-all")
    assert (answer.status_code, answer.location) == (303, "/sign-in")
    assert "You are signed out everywhere." in ann.browser.get("/sign-in").text
    assert (alive(ann), alive(other)) == (401, 401)


def test_a_device_is_named_and_keeps_that_name_through_its_next_sync(house: House, ann):
    ann.sync()
    assert press(ann, "device/name", device=ann.device, name="  Blue   phone ").status_code == 303
    ann.sync()
    assert "<bdi>Blue phone</bdi>" in ann.browser.get("/account").text
    press(ann, "device/name", device=ann.device, name=" ")
    assert "<bdi>A phone</bdi>" in ann.browser.get("/account").text
    answer = press(ann, "device/name", device=ann.device, name="x" * 81)
    assert answer.status_code == 422 and f'value="{"x" * 81}"' in answer.text
    assert re.search(r'role="alert">\s*Use at most 80 characters\.', answer.text)
    assert press(house.phone("ben"), "device/name", device=ann.device, name="x").status_code == 404
    assert press(ann, "device/name", device="nothing", name="x").status_code == 404


def test_a_lost_device_of_ones_own_is_withdrawn_from_another(house: House, ann):
    lost = house.phone("ann")
    ann.sync()
    lost.sync(lost.entry(), unsent=2, last_device_seq=3)
    text = ann.browser.get("/account").text
    assert "then 2 unsent" in text and "2 not here: waiting on the device, or lost with it" in text
    assert press(ann, "device/withdraw", device=ann.device).status_code == 422
    assert press(ann, "device/withdraw", device=lost.device).status_code == 303
    assert lost.sync()["device_state"] == "revoked" and ann.sync()["device_state"] == "active"
    assert ", withdrawn" in ann.browser.get("/account").text
    assert lost.browser.get("/account").status_code == 403
    assert "device_withdrawn" in actions(house)


def test_a_device_that_others_use_too_is_not_ones_own_to_withdraw(house: House, ann):
    ben = house.phone("ben")
    ann.sync()
    ben.sync(device=ann.device)
    elsewhere = house.phone("ben")
    assert press(elsewhere, "device/withdraw", device=ann.device).status_code == 422
    assert ann.sync()["device_state"] == "active"


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_a_device_not_heard_of_for_two_weeks_is_told(house: House, ann):
    silent = house.phone("ann")
    silent.sync(device_name="Old phone")
    house.clock.forward(days=14)
    ann.sign_in()
    assert "Not heard of for two weeks" not in ann.browser.get("/account").text
    house.clock.forward(minutes=1)
    assert "Not heard of for two weeks" in ann.browser.get("/account").text
    set_revoked(house.database, house.organisation, silent.device, house.clock())
    assert "Not heard of for two weeks" not in ann.browser.get("/account").text



def test_what_is_no_act_is_refused(ann):
    assert press(ann, "nothing").status_code == 400
    assert ann.browser.post("/account", data={"act": "session/end-all"}).status_code == 400
