"""Hostile text in every form of /account and of the ways in."""

import pytest

from tests.webapp.support import PASSWORD, House
from tests.webapp.test_own_account import press, use


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_hostile_names_are_text(house: House, ann):
    ann.sync(device_name="<img src=x onerror=alert(1)>")
    text = ann.browser.get("/account").text
    assert "<img" not in text and "&lt;img src=x" in text


@pytest.mark.parametrize("text", ["\0", "x\0y", "\x1b[2J", "\u202eevil", "' OR 1=1--", "{{7*7}}"])
def test_case_21_strange_characters_break_no_form(house: House, ann, text):
    ann.sync()
    for act, asked in (
        ("device/name", {"device": ann.device, "name": text}),
        ("device/name", {"device": text, "name": "x"}),
        ("device/withdraw", {"device": text}),
        ("session/end", {"session": text}),
        ("passkey/remove", {"passkey": text, "password": PASSWORD}),
        ("passkey/add", {"name": text, "password": PASSWORD, "answer": text}),
        ("password", {"password": text, "chosen": text}),
    ):
        assert press(ann, act, **asked).status_code in (303, 404, 422, 429), act
    page = ann.browser.get("/account")
    assert page.status_code == 200 and "\0" not in page.text and "\x1b" not in page.text
    assert use(house, text).status_code == 422
    assert house.phone("ann", sign_in=False).sign_in(name=text).status_code == 401
