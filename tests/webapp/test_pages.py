"""Pages outside the app: one line on top, errors beside their field, the way on; also without a script."""

import re

import pytest

from tests.webapp.support import House
from webapp.clinical import measure_order

FORMS = [f"/forms/{name}" for name in measure_order]
PAGES = ["/sign-in", "/sign-in/new-password", "/offline", "/nowhere", *FORMS]
BUILT = r'<script type="module" src="/built/[\w.-]+"></script>'


@pytest.fixture
def phone(house: House):
    return house.phone("ann", sign_in=False)


def field(page: str, name: str) -> str:
    """The tag of one input."""
    [found] = re.findall(rf"<input[^>]*\bname=\"{name}\"[^>]*>", page)
    return found


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
@pytest.mark.parametrize("path", PAGES)
def test_every_page_has_the_app_s_top_line_and_no_inline_code(phone, path):
    page = phone.browser.get(path).text
    assert '<header class="top"><span class="mark"><svg' in page and page.count('<main class="page">') == 1
    scripts = re.findall(r"<script[^>]*>.*?</script>", page, re.S)
    assert all(re.fullmatch(BUILT, each) for each in scripts)
    assert page.count("<script") == len(scripts) and " style=" not in page and "<style" not in page
    assert page.count("<h1") == 1 and re.search(r"<title>[^<]+ · Lintel</title>", page)


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_a_fresh_sign_in_form_helps_the_password_manager_and_pulls_no_keyboard_up(phone):
    page = phone.browser.get("/sign-in").text
    assert 'autocomplete="username webauthn"' in field(page, "name")
    assert 'autocomplete="current-password"' in field(page, "password")
    assert "autofocus" not in page and "aria-invalid" not in page


@pytest.mark.parametrize(("name", "password", "first"), [
    ("", "", "name"), ("ann@example.org", "", "password"), ("ann@example.org", "wrong", "password"),
])  # fmt: skip
def test_the_first_error_gets_the_focus_and_is_named_beside_its_field(phone, name, password, first):
    data = {"csrf_token": phone.form_token(), "name": name, "password": password}
    page = phone.browser.post("/sign-in", data=data).text
    assert page.count(" autofocus") == 1 and " autofocus" in field(page, first)
    assert f'aria-describedby="error-{first}"' in field(page, first)
    assert f'id="error-{first}"' in page and "<title>Check what you entered" in page
    assert "wrong" not in page


def test_who_is_locked_out_is_told_for_how_long_and_led_back(phone):
    for _ in range(5):
        phone.sign_in(password="wrong")
    answer = phone.sign_in()
    assert (answer.status_code, answer.headers["Retry-After"]) == (429, "31")
    assert "<h1>Too many attempts. Try again in 31 seconds.</h1>" in answer.text
    assert 'href="/sign-in"' in answer.text


def test_a_sign_in_page_open_too_long_leads_back_too(phone):
    answer = phone.browser.post("/sign-in", data={"csrf_token": "stale", "name": "x", "password": "y"})
    assert answer.status_code == 400 and 'href="/sign-in"' in answer.text
    assert 'href="/sign-in"' not in phone.browser.get("/nowhere").text
