"""What guards the addresses: CSRF, origin, headers, methods, who may ask what."""

from datetime import UTC, datetime, timedelta

import pytest

from tests.webapp.support import PASSWORD, House
from tests.webapp.test_own_account import token_in
from webapp.storage.signing_in import ABSOLUTE

WRITES = ["/api/v1/sync", "/sign-in", "/sign-out"]
READS = ["/api/v1/session", "/api/v1/clients", "/api/v1/clients/00000000-0000-4000-8000-000000000000/entries"]


def error_of(answer) -> tuple[int, str]:
    return answer.status_code, answer.json["error"]["code"]


@pytest.mark.parametrize("token", [None, "", "wrong", "IjEyMyI.x.y"])
def test_a_sync_without_the_token_is_refused(ann, token):
    headers = {} if token is None else {"X-CSRFToken": token}
    answer = ann.browser.post("/api/v1/sync", json=ann.message([ann.entry()]), headers=headers)
    assert error_of(answer) == (400, "csrf")


def test_the_token_of_another_session_is_refused(house: House, ann):
    ann.csrf = house.phone("ben").csrf
    assert error_of(ann.post(ann.message([]))) == (400, "csrf")


def test_answers_on_their_way_at_once_leave_each_others_forms_valid(house: House):
    """The app asks who is signed in while a page is gone to: whichever cookie comes last, both hold."""
    phone = house.phone("ann", sign_in=False)
    form = {"csrf_token": phone.form_token(), "name": "ann@example.org", "password": PASSWORD}
    assert phone.browser.post("/sign-in", data=form).status_code == 302
    held = {name: phone.browser.get_cookie(name) for name in ("lintel_session", "lintel_form")}
    cookies = {name: cookie.value for name, cookie in held.items() if cookie}
    at_once = house.app.test_client(use_cookies=False)
    page = at_once.get("/account", headers=_bringing(cookies))
    last = at_once.get("/api/v1/session", headers=_bringing(cookies))
    after = _bringing(cookies | _set_by(page) | _set_by(last))
    sent = {"csrf_token": token_in(page.text), "act": "session/end-all"}
    assert at_once.post("/account", data=sent, headers=after).location == "/sign-in"


def _bringing(cookies: dict[str, str]) -> dict[str, str]:
    return {"Cookie": "; ".join(f"{name}={value}" for name, value in cookies.items())}


def _set_by(answer) -> dict[str, str]:
    pairs = (each.split(";")[0].split("=", 1) for each in answer.headers.getlist("Set-Cookie"))
    return {name: value for name, value in pairs}


def test_what_forms_are_checked_against_lasts_as_long_as_the_sign_in(house: House):
    """A browser that was closed brings both again; no answer that has nothing to tell sets it once more."""
    phone = house.phone("ann", sign_in=False)
    form = {"csrf_token": phone.form_token(), "name": "ann@example.org", "password": PASSWORD}
    assert phone.browser.get_cookie("lintel_form").expires is None
    phone.browser.post("/sign-in", data=form)
    left = phone.browser.get_cookie("lintel_form").expires - datetime.now(UTC)
    assert abs(left - ABSOLUTE) < timedelta(minutes=5)
    assert phone.browser.get_cookie("lintel_session").max_age == ABSOLUTE.total_seconds()
    assert "lintel_form" not in _set_by(phone.browser.get("/account"))


def test_each_sign_in_begins_what_forms_are_checked_against_anew(ann):
    before, token = ann.browser.get_cookie("lintel_form").value, ann.csrf
    ann.sign_in()
    assert ann.browser.get_cookie("lintel_form").value != before
    headers = {"X-CSRFToken": token}
    assert error_of(ann.browser.post("/api/v1/sync", json=ann.message([]), headers=headers)) == (400, "csrf")


def test_the_token_does_not_grow_old_by_itself(house: House, ann):
    for _ in range(6):
        house.clock.forward(hours=11)
        assert ann.post(ann.message([])).status_code == 200


def test_a_token_of_hours_ago_is_still_good(ann, monkeypatch):
    import itsdangerous.timed

    real = itsdangerous.timed.TimestampSigner.get_timestamp
    monkeypatch.setattr(itsdangerous.timed.TimestampSigner, "get_timestamp", lambda self: real(self) + 86_400)
    assert ann.post(ann.message([])).status_code == 200


def test_an_expired_session_is_told_as_such_even_with_a_stale_token(house: House, ann):
    house.clock.forward(days=8)
    ann.csrf = "stale"
    assert error_of(ann.post(ann.message([ann.entry()]))) == (401, "sign_in_needed")


@pytest.mark.parametrize("path", READS)
def test_nothing_personal_without_signing_in(house: House, path):
    assert error_of(house.app.test_client().get(path)) == (401, "sign_in_needed")


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
@pytest.mark.parametrize("path", WRITES)
def test_other_sites_are_refused(ann, path, site):
    answer = ann.browser.post(path, headers={"Sec-Fetch-Site": site, "X-CSRFToken": ann.csrf})
    assert answer.status_code == 403


@pytest.mark.parametrize(
    "origin", ["https://evil.example", "null", "http://localhost:9", "https://localhost"]
)
def test_other_origins_are_refused(ann, origin):
    answer = ann.post(ann.message([]), headers={"Origin": origin})
    assert error_of(answer) == (403, "cross_site")


def test_the_own_origin_is_not(ann):
    headers = {"Origin": "http://localhost", "Sec-Fetch-Site": "same-origin"}
    assert ann.post(ann.message([]), headers=headers).status_code == 200


@pytest.mark.parametrize(
    "path", [*READS, *WRITES, "/healthz", "/api/v1/nothing", "/nothing", "/api/v1/openapi.json"]
)
def test_every_answer_carries_the_headers(house: House, ann, path):
    answer = ann.browser.get(path)
    policy = dict(part.split(" ", 1) for part in answer.headers["Content-Security-Policy"].split("; "))
    assert policy["default-src"] == "'none'" and policy["script-src"] == policy["style-src"] == "'self'"
    assert policy["frame-ancestors"] == policy["base-uri"] == policy["object-src"] == "'none'"
    assert (policy["require-trusted-types-for"], policy["trusted-types"]) == ("'script'", "app")
    assert "unsafe" not in answer.headers["Content-Security-Policy"]
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Referrer-Policy"] == "same-origin"
    assert answer.headers["Cross-Origin-Opener-Policy"] == answer.headers["Cross-Origin-Resource-Policy"]
    assert "geolocation=()" in answer.headers["Permissions-Policy"]
    assert not any(name.startswith("Access-Control") for name in answer.headers.keys())
    if path.startswith("/api/"):
        assert answer.headers["Cache-Control"] == "no-store"


@pytest.mark.parametrize("path", ["/api/v1/nothing", "/api/x.css", "/api/"])
def test_what_is_not_there_under_api_is_told_in_json(house: House, path):
    assert error_of(house.app.test_client().get(path)) == (404, "not_found")


def test_what_is_not_there_elsewhere_is_told_on_a_page(house: House):
    answer = house.app.test_client().get("/nothing")
    assert answer.status_code == 404 and answer.content_type.startswith("text/html")
    assert "There is nothing here." in answer.text


@pytest.mark.parametrize(
    ("method", "path"),
    [
        ("get", "/api/v1/sync"),
        ("delete", "/api/v1/session"),
        ("put", "/api/v1/clients"),
        ("trace", "/api/v1/session"),
    ],
)
def test_other_methods_are_refused(ann, method, path):
    assert error_of(getattr(ann.browser, method)(path)) == (405, "wrong_method")


def test_a_get_changes_nothing_whatever_it_pretends(ann):
    assert ann.browser.get("/sign-out?_method=POST").status_code == 405
    assert ann.browser.get("/api/v1/session").status_code == 200


def test_paths_are_not_left(house: House):
    browser = house.app.test_client()
    for path in ("/built/..%2f..%2fpyproject.toml", "/icons/../app.css", "/app/..%2f..%2fetc/passwd.txt"):
        assert browser.get(path).status_code == 404


def test_an_error_page_does_not_repeat_what_was_asked(house: House):
    answer = house.app.test_client().get("/<script>alert(1)</script>?name=Zebulon")
    assert "script" not in answer.text.replace("script-src", "") and "Zebulon" not in answer.text


def test_health_is_told_without_signing_in(house: House):
    assert house.app.test_client().get("/healthz").json == {"lintel": "ok"}


def test_a_busy_database_is_told_as_such(house: House, ann, monkeypatch):
    from sqlalchemy.exc import OperationalError

    def busy(*_args, **_kwargs):
        raise OperationalError("SELECT", {}, Exception("database is locked"))

    monkeypatch.setattr("webapp.features.sync.routes.append_entries", busy)
    answer = ann.post(ann.message([ann.entry()]))
    assert error_of(answer) == (503, "busy")
    assert answer.headers["Retry-After"] == "5"
