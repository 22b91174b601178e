"""Signing in and out: cookies, sessions, lock-out, CSRF."""

from datetime import timedelta

import pytest
from sqlalchemy import select

from tests.webapp.support import PASSWORD, House
from webapp.storage import set_active
from webapp.storage.models import SignIn, SignInAttempts
from webapp.storage.signing_in import end_sessions, token_hash

COOKIE = "lintel_session"


def token_of(phone) -> str | None:
    cookie = phone.browser.get_cookie(COOKIE)
    return cookie.value if cookie else None


def test_signing_in_leads_to_the_app_and_the_session_says_who(house: House):
    phone = house.phone("ann", sign_in=False)
    answer = phone.sign_in()
    assert (answer.status_code, answer.location) == (302, "/app/")
    session = phone.browser.get("/api/v1/session").json
    assert session["user"] == {"id": phone.person.id, "name": "Ann Example", "role": "therapist"}
    assert session["organisation"] == {
        "id": house.organisation,
        "name": "Larkmere Home Therapy",
        "settings": {
            "early_warning": False,
            "reassessment": {},
            "calendar": {"zone": "UTC", "weekend": [6, 7], "holidays": []},
        },
    }
    assert session["server_time"] == "2026-11-25T09:40:00.000Z"


def test_only_the_hash_of_a_token_is_kept(house: House, ann):
    with house.database.reading() as session:
        kept = session.scalars(select(SignIn.token_hash)).all()
    assert kept == [token_hash(token_of(ann))]
    assert len(token_of(ann)) >= 43


def test_the_name_is_compared_without_regard_to_case_and_blanks(house: House):
    phone = house.phone("ann", sign_in=False)
    assert phone.sign_in(name="  ANN@Example.ORG ").status_code == 302


@pytest.mark.parametrize(
    ("name", "password"), [("ann@example.org", "wrong"), ("nobody@example.org", PASSWORD)]
)
def test_every_failure_gets_the_same_answer(house: House, name, password):
    phone = house.phone("ann", sign_in=False)
    answer = phone.sign_in(name=name, password=password)
    assert answer.status_code == 401
    assert "Name and password do not fit together. Check both." in answer.text
    assert token_of(phone) is None


def test_a_closed_account_cannot_sign_in_and_its_sessions_end(house: House, ann):
    set_active(house.database, ann.person, False)
    assert ann.browser.get("/api/v1/session").status_code == 401
    assert house.phone("ann", sign_in=False).sign_in().status_code == 401


def test_an_empty_form_is_told_which_field(house: House):
    phone = house.phone("ann", sign_in=False)
    answer = phone.browser.post(
        "/sign-in", data={"csrf_token": phone.form_token(), "name": "", "password": ""}
    )
    assert answer.status_code == 422
    assert "Enter your sign-in name." in answer.text and "Enter your password." in answer.text


def test_no_session_is_401_in_words(house: House):
    answer = house.phone("ann", sign_in=False).browser.get("/api/v1/session")
    assert answer.status_code == 401
    assert answer.json["error"]["code"] == "sign_in_needed"
    assert answer.json["error"]["message"] == "Please sign in. What you recorded stays on this device."


def test_a_session_ends_after_twelve_idle_hours(house: House, ann):
    house.clock.forward(hours=11, minutes=59)
    assert ann.browser.get("/api/v1/session").status_code == 200
    house.clock.forward(hours=11, minutes=59)
    assert ann.browser.get("/api/v1/session").status_code == 200
    house.clock.forward(hours=12, minutes=1)
    assert ann.browser.get("/api/v1/session").status_code == 401


def test_a_session_ends_after_seven_days_whatever_it_did(house: House, ann):
    for _ in range(15):
        house.clock.forward(hours=11)
        assert ann.browser.get("/api/v1/session").status_code == 200
    house.clock.forward(hours=4)
    assert ann.browser.get("/api/v1/session").status_code == 401


def test_signing_out_ends_the_session_and_a_replay_of_its_cookie(house: House, ann):
    token = token_of(ann)
    answer = ann.browser.post("/sign-out", headers={"X-CSRFToken": ann.csrf})
    assert (answer.status_code, answer.location) == (302, "/sign-in")
    assert token_of(ann) is None
    ann.browser.set_cookie(COOKIE, token)
    assert ann.browser.get("/api/v1/session").status_code == 401


def test_signing_out_needs_the_token(ann):
    assert ann.browser.post("/sign-out").status_code == 400
    assert ann.browser.get("/api/v1/session").status_code == 200


def test_each_sign_in_makes_a_new_token(house: House, ann):
    first = token_of(ann)
    ann.sign_in()
    assert token_of(ann) != first


def test_a_token_planted_before_sign_in_is_not_used(house: House):
    phone = house.phone("ann", sign_in=False)
    phone.browser.set_cookie(COOKIE, "planted")
    phone.sign_in()
    assert token_of(phone) != "planted"


def test_all_sessions_of_a_person_can_be_ended(house: House, ann):
    second = house.phone("ann")
    end_sessions(house.database, ann.person, house.clock())
    assert {phone.browser.get("/api/v1/session").status_code for phone in (ann, second)} == {401}


def test_after_five_failures_a_name_must_wait_and_then_may_again(house: House):
    phone = house.phone("ann", sign_in=False)
    assert [phone.sign_in(password="wrong").status_code for _ in range(5)] == [401] * 5
    blocked = phone.sign_in()
    assert blocked.status_code == 429
    assert 0 < int(blocked.headers["Retry-After"]) <= 31
    assert "Too many attempts. Try again in 31 seconds." in blocked.text
    house.clock.forward(seconds=31)
    assert phone.sign_in().status_code == 302


def test_the_wait_doubles_up_to_a_quarter_of_an_hour(house: House):
    phone = house.phone("ann", sign_in=False)
    waits = []
    for _ in range(12):
        answer = phone.sign_in(password="wrong")
        if answer.status_code == 429:
            waits.append(int(answer.headers["Retry-After"]) - 1)
            house.clock.forward(seconds=waits[-1] + 1)
    assert waits == sorted(waits) and waits[:3] == [30, 60, 120]
    assert max(waits) <= 900


def test_a_success_forgets_the_failures_of_that_name(house: House):
    phone = house.phone("ann", sign_in=False)
    for _ in range(4):
        phone.sign_in(password="wrong")
    phone.sign_in()
    assert [phone.sign_in(password="wrong").status_code for _ in range(4)] == [401] * 4


def test_names_are_not_kept_with_their_failures(house: House):
    house.phone("ann", sign_in=False).sign_in(name="somebody@example.org", password="wrong")
    with house.database.reading() as session:
        keys = session.scalars(select(SignInAttempts.key)).all()
    assert keys and all(len(key) == 64 and "somebody" not in key for key in keys)


def test_an_unknown_name_costs_a_password_check_too(house: House, monkeypatch):
    checked = []
    from webapp.storage import passwords

    real = passwords.HASHER.verify
    monkeypatch.setattr(
        type(passwords.HASHER),
        "verify",
        lambda self, kept, password: checked.append(kept) or real(kept, password),
    )
    house.phone("ann", sign_in=False).sign_in(name="nobody@example.org")
    [kept] = checked
    assert kept.startswith("$argon2id$")


def test_a_password_of_ten_megabytes_is_refused_before_it_is_hashed(house: House):
    phone = house.phone("ann", sign_in=False)
    token = phone.form_token()
    answer = phone.browser.post(
        "/sign-in", data={"csrf_token": token, "name": "ann@example.org", "password": "x" * 10_000_000}
    )
    assert answer.status_code == 413


def test_a_stronger_setting_makes_a_new_hash_at_the_next_sign_in(house: House, monkeypatch):
    from argon2 import PasswordHasher

    from webapp.storage import passwords
    from webapp.storage.models import User

    monkeypatch.setattr(passwords, "HASHER", PasswordHasher(time_cost=2, memory_cost=16, parallelism=1))
    house.phone("ann")
    with house.database.reading() as session:
        kept = session.get_one(User, (house.organisation, house.people["ann"].id)).password_hash
    assert "m=16,t=2,p=1" in kept


def test_signing_in_goes_nowhere_else(house: House):
    phone = house.phone("ann", sign_in=False)
    answer = phone.browser.post(
        "/sign-in?next=//evil.example",
        data={
            "csrf_token": phone.form_token(),
            "name": "ann@example.org",
            "password": PASSWORD,
            "next": "https://evil.example/",
        },
    )
    assert answer.location == "/app/"


def test_old_sessions_are_cleared_away_at_sign_in(house: House, ann):
    house.clock.forward(days=8)
    house.phone("ann")
    with house.database.reading() as session:
        assert len(session.scalars(select(SignIn)).all()) == 1


def test_cookies_are_out_of_reach_of_scripts_and_other_sites(house: House):
    phone = house.phone("ann", sign_in=False)
    cookies = phone.browser.get("/sign-in").headers.getlist("Set-Cookie") + phone.sign_in().headers.getlist(
        "Set-Cookie"
    )
    assert len(cookies) >= 2
    assert all("HttpOnly" in cookie and "SameSite=Lax" in cookie for cookie in cookies)


def test_outside_the_demo_cookies_are_tied_to_tls_and_to_this_host(database_url):
    house = House(database_url, demo=False, hosts=("lintel.example",))
    browser = house.app.test_client()
    page = browser.get("/sign-in", base_url="https://lintel.example")
    token = page.text.split('name="csrf_token"')[1].split('value="')[1].split('"')[0]
    answer = browser.post(
        "/sign-in",
        base_url="https://lintel.example",
        data={"csrf_token": token, "name": "ann@example.org", "password": PASSWORD},
        headers={"Referer": "https://lintel.example/sign-in"},
    )
    assert answer.status_code == 302
    cookies = [cookie for cookie in answer.headers.getlist("Set-Cookie") if "session" in cookie]
    assert cookies and all(
        cookie.startswith("__Host-lintel_")
        and "Secure" in cookie
        and "Path=/" in cookie
        and "Domain" not in cookie
        for cookie in cookies
    )
    assert answer.headers["Strict-Transport-Security"].startswith("max-age=31536000")
    house.close()


def test_a_forged_host_is_refused(house: House):
    answer = house.app.test_client().get("/sign-in", headers={"Host": "evil.example"})
    assert answer.status_code == 400


def test_sessions_can_be_looked_up_by_their_person_only(house: House, ann):
    ben = house.phone("ben")
    assert ben.browser.get("/api/v1/session").json["user"]["id"] != ann.person.id


def test_an_idle_session_is_touched_at_most_once_a_minute(house: House, ann):
    def seen():
        with house.database.reading() as session:
            return session.scalars(select(SignIn.seen_at)).one()

    before = seen()
    house.clock.forward(seconds=30)
    ann.browser.get("/api/v1/session")
    assert seen() == before
    house.clock.forward(seconds=31)
    ann.browser.get("/api/v1/session")
    assert seen() == before + timedelta(seconds=61)
