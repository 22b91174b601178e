"""Passkeys: adding one, signing in with it, and everything of case 39 that is refused."""

import json
from typing import Any

import pytest
from sqlalchemy import select

from tests.webapp.authenticator import Authenticator, unpadded
from tests.webapp.support import PASSWORD, House
from tests.webapp.support_audit import actions, rows
from tests.webapp.test_own_account import press, token_in
from webapp.storage import set_active
from webapp.storage.models import Passkey, SignIn
from webapp.storage.passkeys import MOST_PASSKEYS

KEY_NAME = "Blue key"


def asked(browser, address: str, page: str) -> dict[str, Any]:
    """What the server wants an authenticator asked for."""
    token = token_in(browser.get(page).text)
    answer = browser.post(f"{address}/options", headers={"X-CSRFToken": token})
    assert answer.status_code == 200 and answer.headers["Cache-Control"] == "no-store"
    return answer.json


def add(phone, key: Authenticator, name: str = KEY_NAME, password: str = PASSWORD):
    answer = key.make(asked(phone.browser, "/account/passkey", "/account"))
    return press(phone, "passkey/add", name=name, password=password, answer=answer)


def use(house: House, answer: str, browser=None):
    """Hand an answer in; the browser and what it was told."""
    browser = browser or house.app.test_client()
    data = {"csrf_token": token_in(browser.get("/sign-in").text), "answer": answer}
    return browser, browser.post("/sign-in/passkey", data=data)


def sign_in(house: House, key: Authenticator):
    browser = house.app.test_client()
    return use(house, key.get(asked(browser, "/sign-in/passkey", "/sign-in")), browser)


def kept(house: House) -> list[Passkey]:
    with house.database.reading() as session:
        return list(session.scalars(select(Passkey)))


def refusals(house: House) -> list[str | None]:
    return [row.reason for row in rows(house, action="passkey_refused")]


@pytest.fixture
def key(ann) -> Authenticator:
    """A passkey of Ann's that was added."""
    made = Authenticator()
    assert add(ann, made).status_code == 303
    return made


def test_a_passkey_signs_its_person_in(house: House, ann, key):
    browser, answer = sign_in(house, key)
    assert (answer.status_code, answer.location) == (302, "/app/")
    assert browser.get("/api/v1/session").json["user"]["id"] == ann.person.id
    [row] = kept(house)
    assert (row.name, row.last_used_at) == (KEY_NAME, house.clock())
    assert "last used" in browser.get("/account").text and KEY_NAME in browser.get("/account").text
    signed_in = rows(house, action="signed_in")
    assert [each.reason for each in signed_in] == [None, "passkey"]


def test_what_a_browser_is_asked_for(house: House, ann, key):
    wanted = asked(ann.browser, "/account/passkey", "/account")
    assert wanted["rp"]["id"] == "localhost" and wanted["attestation"] == "none"
    assert wanted["authenticatorSelection"]["residentKey"] == "required"
    assert wanted["authenticatorSelection"]["userVerification"] == "required"
    assert [each["id"] for each in wanted["excludeCredentials"]] == [unpadded(key.own)]
    anybody = asked(house.app.test_client(), "/sign-in/passkey", "/sign-in")
    assert (anybody["rpId"], anybody["userVerification"]) == ("localhost", "required")
    assert not anybody.get("allowCredentials")
    assert len(anybody["challenge"]) == 43


@pytest.mark.parametrize(
    ("wrong", "reason"),
    [
        ({"origin": "https://evil.example"}, "origin"),
        ({"origin": "http://localhost.evil.example"}, "origin"),
        ({"rp_id": "evil.example"}, "host"),
        ({"verifies": False}, "not_verified"),
    ],
)
def test_case_39_a_passkey_is_not_added_on_a_wrong_answer(house: House, ann, wrong, reason):
    answer = add(ann, Authenticator(**wrong))
    assert answer.status_code == 422 and "The passkey could not be added." in answer.text
    assert kept(house) == [] and refusals(house) == [reason]


@pytest.mark.parametrize(
    ("wrong", "reason"),
    [
        ({"origin": "https://evil.example"}, "origin"),
        ({"rp_id": "evil.example"}, "host"),
        ({"verifies": False}, "not_verified"),
        ({"user": ""}, "another_person"),
        ({"key": Authenticator().key}, "signature"),
    ],
)
def test_case_39_a_wrong_answer_signs_nobody_in(house: House, ann, key, wrong, reason):
    for name, value in wrong.items():
        setattr(key, name, value)
    browser, answer = sign_in(house, key)
    assert answer.status_code == 401 and "This passkey could not be used." in answer.text
    assert browser.get("/api/v1/session").status_code == 401
    assert refusals(house) == [reason]
    assert (rows(house, action="passkey_refused")[0].person_id) == ann.person.id


def test_case_39_an_answer_is_taken_once(house: House, ann, key):
    browser = house.app.test_client()
    answer = key.get(asked(browser, "/sign-in/passkey", "/sign-in"))
    assert use(house, answer, browser)[1].status_code == 302
    assert use(house, answer)[1].status_code == 401
    assert refusals(house) == ["challenge"]


def test_case_39_a_challenge_is_used_up_by_a_wrong_answer_too(house: House, ann, key):
    browser = house.app.test_client()
    ask = asked(browser, "/sign-in/passkey", "/sign-in")
    key.verifies = False
    assert use(house, key.get(ask), browser)[1].status_code == 401
    key.verifies = True
    assert use(house, key.get(ask), browser)[1].status_code == 401
    assert refusals(house) == ["not_verified", "challenge"]


def test_case_39_a_challenge_is_good_for_five_minutes(house: House, ann, key):
    browser = house.app.test_client()
    answer = key.get(asked(browser, "/sign-in/passkey", "/sign-in"))
    house.clock.forward(minutes=5)
    assert use(house, answer, browser)[1].status_code == 401
    assert refusals(house) == ["challenge"]


def test_case_39_a_challenge_is_for_what_it_was_given_for(house: House, ann, key):
    """One of a sign-in makes no passkey, one of Ben's none for Ann, and an invented one does nothing."""
    ben = house.phone("ben")
    for ask in (
        asked(house.app.test_client(), "/sign-in/passkey", "/sign-in"),
        asked(ben.browser, "/account/passkey", "/account"),
        {"challenge": unpadded(b"invented" * 4)},
    ):
        answer = Authenticator().make({"user": {"id": ""}} | ask)
        assert press(ann, "passkey/add", name="x", password=PASSWORD, answer=answer).status_code == 422
    assert refusals(house) == ["challenge"] * 3 and len(kept(house)) == 1


@pytest.mark.parametrize(
    "answer", ["", "{}", "[]", "nonsense", '{"id": "x", "rawId": "x", "type": "public-key", "response": {}}',
               '{"id": 1}', "[" * 5000]
)  # fmt: skip
@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_what_is_no_answer_at_all_is_refused(house: House, ann, answer):
    assert use(house, answer)[1].status_code == 401
    assert press(ann, "passkey/add", name="x", password=PASSWORD, answer=answer).status_code == 422
    assert refusals(house) == ["malformed"]


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_every_byte_of_an_answer_counts(house: House, ann, key, monkeypatch):
    """Whatever part of a good answer is changed, nobody is signed in and nothing breaks."""
    monkeypatch.setitem(house.app.config, "PROPAGATE_EXCEPTIONS", True)
    told = 0
    for part in ("clientDataJSON", "authenticatorData", "signature", "userHandle"):
        for place in (0, 7, -2):
            house.clock.forward(minutes=16)
            browser = house.app.test_client()
            answer = json.loads(key.get(asked(browser, "/sign-in/passkey", "/sign-in")))
            text = answer["response"][part]
            place %= len(text)
            other = "A" if text[place] != "A" else "B"
            answer["response"][part] = text[:place] + other + text[place + 1 :]
            assert use(house, json.dumps(answer), browser)[1].status_code == 401
            told += 1
    assert len(refusals(house)) == told


def test_a_count_that_goes_back_is_written_down_and_locks_nobody_out(house: House, ann, key):
    for count, alarms in ((5, 0), (6, 0), (6, 1), (2, 2), (7, 2)):
        key.count = count
        assert sign_in(house, key)[1].status_code == 302
        assert actions(house).count("passkey_counted_back") == alarms
    assert kept(house)[0].sign_count == 7


def test_a_passkey_that_does_not_count_raises_no_alarm(house: House, ann, key):
    assert [sign_in(house, key)[1].status_code for _ in range(2)] == [302, 302]
    assert "passkey_counted_back" not in actions(house)


def test_wrong_passwords_do_not_lock_a_passkey_out(house: House, ann, key):
    for _ in range(6):
        house.phone("ann", sign_in=False).sign_in(password="wrong")
    assert house.phone("ann", sign_in=False).sign_in().status_code == 429
    assert sign_in(house, key)[1].status_code == 302


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_whoever_tries_answers_must_wait(house: House):
    assert [use(house, "{}")[1].status_code for _ in range(21)] == [401] * 20 + [429]


def test_a_closed_accounts_passkey_signs_nobody_in(house: House, ann, key):
    set_active(house.database, ann.person, False)
    assert sign_in(house, key)[1].status_code == 401
    assert refusals(house) == ["closed"]


def test_adding_and_removing_ask_for_the_password(house: House, ann, key):
    assert add(ann, Authenticator(), password="wrong").status_code == 422
    assert add(ann, Authenticator(), name="").status_code == 422
    [row] = kept(house)
    wrong = press(ann, "passkey/remove", passkey=row.credential_hash, password="wrong")
    assert wrong.status_code == 422 and "This is not your present password." in wrong.text
    assert len(kept(house)) == 1
    done = press(ann, "passkey/remove", passkey=row.credential_hash, password=PASSWORD)
    assert done.status_code == 303 and kept(house) == []
    assert sign_in(house, key)[1].status_code == 401
    assert {"passkey_added", "passkey_removed", "password_refused"} <= set(actions(house))


def test_nobody_removes_another_persons_passkey(house: House, ann, key):
    [row] = kept(house)
    ben = house.phone("ben")
    answer = press(ben, "passkey/remove", passkey=row.credential_hash, password=PASSWORD)
    assert answer.status_code == 404 and len(kept(house)) == 1


def test_the_same_passkey_is_not_added_twice(house: House, ann, key):
    assert add(ann, key).status_code == 422
    assert add(house.phone("ben"), key).status_code == 422
    assert len(kept(house)) == 1


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_a_person_has_at_most_twenty(house: House, ann):
    assert [add(ann, Authenticator()).status_code for _ in range(MOST_PASSKEYS + 1)] == [303] * 20 + [422]


def test_a_second_one_is_advised(house: House, ann, key):
    assert "You have one passkey. Add a second on another device." in ann.browser.get("/account").text
    add(ann, Authenticator(), name="Spare")
    assert "You have one passkey." not in ann.browser.get("/account").text


def test_case_8_a_session_cookie_set_before_is_not_taken_over(house: House, ann, key):
    browser = house.app.test_client()
    browser.set_cookie("lintel_session", "known-to-somebody-else")
    assert use(house, key.get(asked(browser, "/sign-in/passkey", "/sign-in")), browser)[1].status_code == 302
    assert browser.get_cookie("lintel_session").value != "known-to-somebody-else"
    with house.database.reading() as session:
        assert len(session.scalars(select(SignIn)).all()) == 2

