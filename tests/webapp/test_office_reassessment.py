"""The office page on which a service chooses rules of reassessment and its days off."""

from pathlib import Path

import pytest

from tests.databases import copy_of
from tests.webapp.support import House, Phone
from webapp.storage.switches import settings_of


@pytest.fixture
def database_url(sqlite_template: Path, tmp_path: Path) -> str:
    """One kind of database: the settings are one column, the same on both."""
    return copy_of(sqlite_template, tmp_path)


@pytest.fixture
def otto(house: House) -> Phone:
    house.people["otto"] = house.add_person("otto", house.organisation, "administrator")
    return house.phone("otto")


def press(otto: Phone, act: str, **fields):
    token = otto.browser.get("/office/reassessment").text.split('name="csrf_token" value="')[1].split('"')[0]
    form = {"csrf_token": token, "act": act, **fields}
    return otto.browser.post("/office/reassessment", data=form)


def setting(house: House, name: str):
    with house.database.reading() as session:
        return settings_of(session, house.organisation)[name]


def test_the_built_in_rules_are_told_with_source_and_dates(otto: Phone):
    text = otto.browser.get("/office/reassessment").text
    assert "42 CFR 409.44(c)(2)(i)" in text and "Published limit" in text
    # 30 days after 25 November 2026 is Christmas Day, a Friday; then the count begins anew.
    assert "<li>25 December 2026, sensible from 18 December 2026</li>" in text
    # 24 January 2027 is a Sunday: the Friday before it.
    assert "<li>22 January 2027" in text


def test_a_rule_is_taken_out_of_force_and_put_in_again(house: House, otto: Phone):
    assert press(otto, "reassessment/leave", rule="home_health_30_days").status_code == 303
    assert "home_health_30_days" not in setting(house, "reassessment")["in_force"]
    assert "Reassessment of function, US home health</strong>, not in force" in (
        otto.browser.get("/office/reassessment").text
    )
    press(otto, "reassessment/use", rule="home_health_30_days")
    assert "home_health_30_days" in setting(house, "reassessment")["in_force"]
    assert house.phone("ann").sync()["settings"]["reassessment"] == setting(house, "reassessment")


def test_a_rule_of_one_s_own_is_shown_before_it_is_made(house: House, otto: Phone):
    fields = {"title": "Every fortnight", "type": "every_days", "number": "14"}
    tried = press(otto, "reassessment/try", **fields)
    assert tried.status_code == 200 and "<li>9 December 2026" in tried.text
    assert 'value="Every fortnight"' in tried.text
    assert setting(house, "reassessment") == {}
    press(otto, "reassessment/make", **fields)
    [rule] = setting(house, "reassessment")["rules"]
    assert (rule["id"], rule["days"], rule["legal"]) == ("own_1", 14, False)
    assert "own_1" in setting(house, "reassessment")["in_force"]
    press(otto, "reassessment/remove", rule="own_1")
    assert setting(house, "reassessment")["rules"] == []
    assert press(otto, "reassessment/remove", rule="home_health_30_days").status_code == 404


@pytest.mark.parametrize("act", ["reassessment/try", "reassessment/make"])
@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"number": "0"}, "number"),
        ({"number": "many"}, "Write a whole number, such as 30."),
        ({"title": " "}, "This is empty. Fill it in."),
        ({"type": "sometimes"}, "This is not one of the answers offered."),
    ],
)
def test_what_is_no_rule_is_refused_at_its_field(house: House, otto: Phone, act, change, sentence):
    fields = {"title": "Every fortnight", "type": "every_days", "number": "14", **change}
    answer = press(otto, act, **fields)
    assert answer.status_code == 422 and 'aria-invalid="true"' in answer.text and sentence in answer.text
    assert setting(house, "reassessment") == {}


def test_days_off_move_what_is_published_earlier(house: House, otto: Phone):
    days = {"zone": "Europe/London", "weekend": ["", "6", "7"], "holidays": "2026-12-25\r\n2026-12-24"}
    assert press(otto, "calendar/set", **days).status_code == 303
    kept = {"zone": "Europe/London", "weekend": [6, 7], "holidays": ["2026-12-24", "2026-12-25"]}
    assert setting(house, "calendar") == kept
    page = otto.browser.get("/office/reassessment").text
    assert "<li>23 December 2026" in page and "2026-12-24\n2026-12-25" in page
    assert page.count("<input checked") == 2


@pytest.mark.parametrize(
    ("field", "value"), [("holidays", "25.12.2026"), ("holidays", "2026-02-30"), ("zone", "Atlantis/Capital")]
)
def test_days_that_are_none_are_refused_at_their_field(house: House, otto: Phone, field, value):
    answer = press(otto, "calendar/set", **{"zone": "UTC", "weekend": "67", "holidays": "", field: value})
    assert answer.status_code == 422 and f'aria-describedby="error-calendar-set-{field}"' in answer.text
    assert value in answer.text and setting(house, "calendar")["zone"] == "UTC"


def test_two_administrators_lose_nothing_of_each_other(house: House, otto: Phone):
    press(otto, "reassessment/make", title="One", type="every_days", number="20")
    press(otto, "reassessment/make", title="Two", type="after_visits", number="6")
    assert [rule["id"] for rule in setting(house, "reassessment")["rules"]] == ["own_1", "own_2"]
