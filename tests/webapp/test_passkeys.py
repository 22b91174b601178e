"""Passkeys: adding one, signing in with it, and everything of case 39 that is refused."""

import json
import uuid
from typing import Any

import pytest
from sqlalchemy import select
from webauthn import verify_authentication_response, verify_registration_response

from tests.webapp.authenticator import Authenticator, unpadded
from tests.webapp.support import PASSWORD, House
from tests.webapp.support_audit import actions, rows
from tests.webapp.test_own_account import press, token_in
from webapp.storage import set_active
from webapp.storage.models import Passkey, PasskeyChallenge, SignIn
from webapp.storage.passkeys import MOST_PASSKEYS, hash_of_credential

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
def test_every_byte_of_an_answer_counts(house: House, ann, key):
    """Whatever part of a good answer is changed, nobody is signed in and nothing breaks."""
    house.app.config["PROPAGATE_EXCEPTIONS"] = True
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


def test_old_challenges_are_cleared_away(house: House):
    for _ in range(3):
        asked(house.app.test_client(), "/sign-in/passkey", "/sign-in")
        house.clock.forward(minutes=6)
    with house.database.reading() as session:
        assert len(session.scalars(select(PasskeyChallenge)).all()) == 1


def test_case_8_a_session_cookie_set_before_is_not_taken_over(house: House, ann, key):
    browser = house.app.test_client()
    browser.set_cookie("lintel_session", "known-to-somebody-else")
    assert use(house, key.get(asked(browser, "/sign-in/passkey", "/sign-in")), browser)[1].status_code == 302
    assert browser.get_cookie("lintel_session").value != "known-to-somebody-else"
    with house.database.reading() as session:
        assert len(session.scalars(select(SignIn)).all()) == 2


# W3C, Web Authentication Level 3, section 16 "Test Vectors", "ES256 Credential with No Attestation".
SPEC = {
    "credential": "f91f391db4c9b2fde0ea70189cba3fb63f579ba6122b33ad94ff3ec330084be4",
    "made_for": "00c30fb78531c464d2b6771dab8d7b603c01162f2fa486bea70f283ae556e130",
    "made_client": "7b2274797065223a22776562617574686e2e637265617465222c226368616c6c656e6765223a22414d4d5074345578"
    "78475453746e63647134313759447742466938767049612d7077386f4f755657345441222c226f726967696e223a2268747470733a"
    "2f2f6578616d706c652e6f7267222c2263726f73734f726967696e223a66616c73652c22657874726144617461223a22636c69656e"
    "74446174614a534f4e206d617920626520657874656e6465642077697468206164646974696f6e616c206669656c647320696e2074"
    "6865206675747572652c207375636820617320746869733a20426b5165446a646354427258426941774a544c453551227d",
    "attestation": "a363666d74646e6f6e656761747453746d74a068617574684461746158a4bfabc37432958b063360d3ad6461c9c473"
    "5ae7f8edd46592a5e0f01452b2e4b559000000008446ccb9ab1db374750b2367ff6f3a1f0020f91f391db4c9b2fde0ea70189cba3f"
    "b63f579ba6122b33ad94ff3ec330084be4a5010203262001215820afefa16f97ca9b2d23eb86ccb64098d20db90856062eb249c33a"
    "9b672f26df61225820930a56b87a2fca66334b03458abf879717c12cc68ed73290af2e2664796b9220",
    "used_for": "39c0e7521417ba54d43e8dc95174f423dee9bf3cd804ff6d65c857c9abf4d408",
    "data": "bfabc37432958b063360d3ad6461c9c4735ae7f8edd46592a5e0f01452b2e4b51900000000",
    "used_client": "7b2274797065223a22776562617574686e2e676574222c226368616c6c656e6765223a224f63446e55685158756c54"
    "55506f334a5558543049393770767a7a59425039745a63685879617630314167222c226f726967696e223a2268747470733a2f2f65"
    "78616d706c652e6f7267222c2263726f73734f726967696e223a66616c73657d",
    "signature": "3046022100f50a4e2e4409249c4a853ba361282f09841df4dd4547a13a87780218deffcd380221008480ac0f0b93538174"
    "f575bf11a1dd5d78c6e486013f937295ea13653e331e87",
}
PLACE = {"expected_rp_id": "example.org", "expected_origin": "https://example.org"}


def spec(name: str) -> bytes:
    return bytes.fromhex(SPEC[name])


def spec_answer(**parts: str) -> str:
    response = {name: unpadded(spec(part)) for name, part in parts.items()}
    own = unpadded(spec("credential"))
    return json.dumps({"id": own, "rawId": own, "type": "public-key", "response": response})


def test_the_standards_own_vector_holds():
    """The control of the next test: where nobody asks for the person to be verified, its answers are good."""
    made = spec_answer(clientDataJSON="made_client", attestationObject="attestation")
    found = verify_registration_response(credential=made, expected_challenge=spec("made_for"), **PLACE)
    used = spec_answer(clientDataJSON="used_client", authenticatorData="data", signature="signature")
    done = verify_authentication_response(
        credential=used, expected_challenge=spec("used_for"), credential_current_sign_count=0,
        credential_public_key=found.credential_public_key, **PLACE,
    )  # fmt: skip
    assert done.credential_id == spec("credential") and not done.user_verified


def test_case_39_the_standards_vector_without_verification_is_refused(database_url, monkeypatch):
    """The same bytes over HTTP, to a challenge that was given out, at the host they are for."""
    house = House(database_url, demo=False, hosts=("example.org",))
    monkeypatch.setattr("webapp.features.accounts.ceremonies.secrets.token_bytes", lambda _: spec("used_for"))
    browser, place = house.app.test_client(), {"base_url": "https://example.org"}
    headers = {"Referer": "https://example.org/sign-in"}
    with house.database.writing() as session:
        made = spec_answer(clientDataJSON="made_client", attestationObject="attestation")
        found = verify_registration_response(credential=made, expected_challenge=spec("made_for"), **PLACE)
        own = unpadded(spec("credential"))
        person = house.people["ann"]
        session.add(
            Passkey(organisation_id=person.organisation, user_id=person.id, credential_id=own,
                    credential_hash=hash_of_credential(own), public_key=found.credential_public_key,
                    sign_count=0, backed_up=True, name="spec", created_at=house.clock())
        )  # fmt: skip
    token = token_in(browser.get("/sign-in", **place).text)
    browser.post("/sign-in/passkey/options", headers=headers | {"X-CSRFToken": token}, **place)
    used = json.loads(spec_answer(clientDataJSON="used_client", authenticatorData="data", signature="signature"))
    used["response"]["userHandle"] = unpadded(uuid.UUID(person.id).bytes)
    data = {"csrf_token": token, "answer": json.dumps(used)}
    answer = browser.post("/sign-in/passkey", data=data, headers=headers, **place)
    assert answer.status_code == 401 and refusals(house) == ["not_verified"]
    house.close()
