"""What an administrator does, by the pages and by the addresses: what is refused, what follows from it."""

import pytest

from tests.webapp.support import House
from tests.webapp.test_rights import led as led
from tests.webapp.test_rights import seen_by

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
OFFICE = "/api/v1/office"


def do(phone, act: str, **asked):
    return phone.browser.post(f"{OFFICE}/{act}", json=asked, headers={"X-CSRFToken": phone.csrf})


def press(phone, page: str, act: str, **asked):
    """Send a form of a page, with the token that the page holds."""
    text = phone.browser.get(f"/office/{page}").text
    token = text.split('name="csrf_token" value="')[1].split('"')[0]
    return phone.browser.post(f"/office/{page}", data={"csrf_token": token, "act": act, **asked})


@pytest.fixture
def otto(led: House):
    return led.phone("otto")


def test_a_new_account_signs_in_with_the_passphrase_that_is_shown_once(led: House, otto):
    made = do(
        otto, "people/make", name=" Noor   Abelard ", sign_in_name="Noor@Example.org", role="therapist"
    ).json
    led.people["noor"] = led.people["ann"]
    noor = led.phone("noor", sign_in=False)
    assert noor.sign_in(password=made["passphrase"]).status_code == 302
    assert noor.browser.get("/api/v1/session").json["user"]["name"] == "Noor Abelard"
    listed = otto.browser.get(f"{OFFICE}/people")
    assert made["passphrase"] not in listed.text and made["person"] in listed.text


def test_a_taken_sign_in_name_is_refused_at_its_field(led: House, otto):
    """Also one of another organisation, in the same words."""
    for taken in ("ANN@example.org", "cleo@example.org"):
        answer = do(otto, "people/make", name="X", sign_in_name=taken, role="lead")
        assert (answer.status_code, answer.json["error"]["field"]) == (422, "sign_in_name")


def test_a_sign_in_name_that_grows_too_long_is_refused_at_its_field(led: House, otto):
    """One character of Unicode's compatibility forms may stand for eighteen."""
    answer = do(otto, "people/make", name="X", sign_in_name="\ufdfa" * 200, role="lead")
    assert (answer.status_code, answer.json["error"]["field"]) == (422, "sign_in_name")


@pytest.mark.parametrize("extra", ["organisation_id", "owner_id", "signed_by", "active", "id"])
def test_case_3_a_field_that_is_not_asked_for_is_refused(led: House, otto, extra):
    answer = do(otto, "people/make", **{"name": "X", "sign_in_name": "x", "role": "lead", extra: led.other})
    assert (answer.status_code, answer.json["error"]["field"]) == (422, extra)
    answer = do(otto, "people/close", person=led.people["ann"].id, **{extra: "x"})
    assert (answer.status_code, answer.json["error"]["field"]) == (422, extra)


def test_case_6_a_closed_account_ends_at_the_next_request_and_keeps_what_it_has(led: House, otto):
    ann = led.phone("ann")
    entry = ann.entry()
    assert do(otto, "people/close", person=led.people["ann"].id).status_code == 200
    answer = ann.post(ann.message([entry]))
    assert (answer.status_code, answer.json["error"]["code"]) == (401, "sign_in_needed")
    assert "stays on this device" in answer.json["error"]["message"]
    assert do(otto, "people/reopen", person=led.people["ann"].id).status_code == 200
    # The old session does not come back to life; a new sign-in hands the entry in.
    assert ann.post(ann.message([entry])).status_code == 401
    ann.sign_in()
    assert ann.verdict(entry)["verdict"] == "applied"


def test_case_7_a_cookie_played_again_after_signing_out_everywhere(led: House, otto):
    phones = [led.phone("ann"), led.phone("ann")]
    assert do(otto, "people/sign-out", person=led.people["ann"].id).status_code == 200
    assert [phone.browser.get("/api/v1/clients").status_code for phone in phones] == [401, 401]
    assert led.phone("ben").browser.get("/api/v1/clients").status_code == 200


def test_case_8_a_session_cookie_set_before_is_not_taken_over(led: House):
    """Session fixation: signing in makes a new token whatever the browser brought."""
    ann = led.phone("ann", sign_in=False)
    ann.browser.set_cookie("lintel_session", "known-to-somebody-else")
    ann.sign_in()
    assert ann.browser.get_cookie("lintel_session").value != "known-to-somebody-else"
    other = led.app.test_client()
    other.set_cookie("lintel_session", "known-to-somebody-else")
    assert other.get("/api/v1/clients").status_code == 401


def test_case_33_the_same_entry_again_and_the_same_number_with_another_body(led: House):
    ann = led.phone("ann")
    entry = ann.entry("note", {"text": "first"})
    verdicts = [ann.verdict(item)["verdict"] for item in (entry, entry, entry | {"body": {"text": "second"}})]
    assert verdicts == ["applied", "duplicate", "clash"]


@pytest.mark.parametrize(("recorded", "verdict"), [
    ("2024-11-25T09:40:00.000Z", "applied"),
    ("2026-11-26T09:40:00.000Z", "applied"),
    ("2028-11-25T09:40:00.000Z", "held"),
])  # fmt: skip
def test_case_34_a_clock_two_years_off_wins_nothing(led: House, recorded, verdict):
    """Order is the log's: what is stored later has the greater number, whatever the device's clock says."""
    ann = led.phone("ann")
    before = ann.verdict(ann.entry())
    found = ann.verdict(ann.entry(recorded_at=recorded))
    assert found["verdict"] == verdict
    if verdict == "applied":
        assert found["seq"] == before["seq"] + 1


def test_case_35_two_devices_correct_the_same_entry_and_nothing_is_lost(led: House):
    one, two = led.phone("ann"), led.phone("ann")
    first = one.entry("note", {"text": "first"})
    one.sync(first)
    for phone, text in ((one, "one's"), (two, "two's")):
        mended = phone.entry("note", {"text": text}, amends=first["id"], reason="mended")
        assert phone.verdict(mended)["verdict"] == "applied"
    texts = [entry["body"]["text"] for entry in led.phone("ann").pull()["entries"]]
    assert texts == ["first", "one's", "two's"]


def test_putting_on_a_caseload_and_taking_off(led: House, otto):
    asked = {"person": led.people["ben"].id, "client": led.clients["ann1"]}
    assert (
        do(otto, "caseloads/put", **asked).status_code
        == do(otto, "caseloads/put", **asked).status_code
        == 200
    )
    assert seen_by(led, "ben") == {"ann1", "ben1"}
    listed = otto.browser.get(f"{OFFICE}/people/{led.people['ben'].id}/caseload").json["caseload"]
    assert sorted(each["client"] for each in listed) == sorted((led.clients["ann1"], led.clients["ben1"]))
    led.clock.forward(minutes=1)
    assert do(otto, "caseloads/take", **asked).status_code == 200
    assert seen_by(led, "ben") == {"ben1"}
    assert do(otto, "caseloads/take", **asked).status_code == 404


def test_an_administrator_closes_neither_the_own_account_nor_gets_a_caseload(led: House, otto):
    own = led.people["otto"].id
    assert do(otto, "people/close", person=own).json["error"]["field"] == "person"
    assert do(otto, "caseloads/put", person=own, client=led.clients["ann1"]).status_code == 422
    assert do(otto, "teams/put", team=led.teams["north"], person=own, part="member").status_code == 422


@pytest.mark.parametrize("wrong", ["", "x", None, 3, "0" * 400])
def test_what_is_no_id_is_refused(led: House, otto, wrong):
    for act, name in (("people/close", "person"), ("devices/withdraw", "device")):
        answer = do(otto, act, **{name: wrong})
        assert (answer.status_code, answer.json["error"]["field"]) == (422, name)


def test_a_page_does_the_same_and_says_so(led: House, otto):
    done = press(otto, "people", "people/close", person=led.people["ann"].id)
    assert (done.status_code, done.headers["Location"]) == (303, "/office/people")
    page = otto.browser.get("/office/people").text
    assert "The account is closed" in page and "Open the account again" in page
    assert "The account is closed" not in otto.browser.get("/office/people").text


def test_a_page_shows_a_refusal_beside_its_field_and_keeps_what_was_typed(led: House, otto):
    answer = press(otto, "teams", "teams/make", name="NORTH")
    assert (
        answer.status_code == 422 and "Choose another name" in answer.text and 'value="NORTH"' in answer.text
    )
    answer = press(otto, "teams", "caseloads/put", person=led.people["ben"].id, client="12")
    assert answer.status_code == 422 and 'value="12"' in answer.text and 'role="alert"' in answer.text


def test_a_page_takes_no_act_of_another_page_and_none_without_its_token(led: House, otto):
    ann = led.people["ann"].id
    assert press(otto, "teams", "people/close", person=ann).status_code == 400
    assert press(otto, "people", "nothing/at-all", person=ann).status_code == 400
    sent = otto.browser.post("/office/people", data={"act": "people/close", "person": ann})
    assert (sent.status_code, led.phone("ann").browser.get("/api/v1/session").status_code) == (400, 200)


def test_the_pages_are_never_stored_and_hold_no_script(led: House, otto):
    for page in ("people", "teams", "devices"):
        answer = otto.browser.get(f"/office/{page}")
        assert answer.headers["Cache-Control"] == "no-store"
        assert "<script" not in answer.text and "style=" not in answer.text


def test_administrators_begin_in_the_office_and_others_in_the_app(led: House):
    assert led.phone("otto", sign_in=False).sign_in().headers["Location"] == "/office/people"
    assert led.phone("ann", sign_in=False).sign_in().headers["Location"] == "/app/"
