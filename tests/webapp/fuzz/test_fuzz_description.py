"""Requests that schemathesis makes from the API's own description, good and bad."""

import pytest
import schemathesis
from hypothesis import given
from hypothesis import strategies as st
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from tests.webapp.fuzz.amount import fuzzed

CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]
MODES = list(schemathesis.GenerationMode)
# Each of these by itself, or chance would seldom come to them; the other addresses together.
OF_SYNC = ["/api/v1/sync", "/api/v1/session", "/api/v1/clients", "/api/v1/clients/{client}/entries"]


@pytest.fixture(scope="module")
def operations(made):
    schema = schemathesis.openapi.from_wsgi("/api/v1/openapi.json", made.app)
    return [one.ok() for one in schema.get_all_operations()]


@pytest.mark.parametrize("path", [*OF_SYNC, None], ids=lambda path: path or "the others")
@fuzzed
@given(data=st.data())
def test_whatever_the_description_allows_or_forbids(made, watch, operations, path, data):
    """No failure of the server, words that help, and no trace of what was refused."""
    meant = [one for one in operations if one.path == path or (path is None and one.path not in OF_SYNC)]
    operation = data.draw(st.sampled_from(meant))
    case = data.draw(operation.as_strategy(generation_mode=data.draw(st.sampled_from(MODES))))
    phone = made.phone("ann")
    cookie = phone.browser.get_cookie("lintel_session")
    if data.draw(st.integers(0, 3)):  # mostly with the token; without it the rest is not looked at
        case.headers["X-CSRFToken"] = phone.csrf
    case.headers["Accept-Encoding"] = "identity"  # nothing in between unpacks here
    case.cookies = {cookie.key: cookie.value, **session_of(phone)}
    before = watch.rows()
    answer = case.call()
    case.validate_response(answer, checks=CHECKS)
    after = watch.rows()
    if answer.status_code != 200:
        watch.told(answer.status_code, answer.json())
        assert after == before
    elif path == "/api/v1/sync":
        watch.effect(answer.json(), before, after)
    elif path:
        assert after == before


def session_of(phone):
    """The cookie that the token belongs to."""
    found = phone.browser.get_cookie("session") or phone.browser.get_cookie("lintel_form")
    return {found.key: found.value} if found else {}


def test_a_request_made_from_the_description_reaches_past_the_token(made, operations):
    phone = made.phone("ann")
    [sync] = [one for one in operations if one.path == "/api/v1/sync"]
    cookie = phone.browser.get_cookie("lintel_session")
    headers = {"X-CSRFToken": phone.csrf, "Accept-Encoding": "identity"}
    case = sync.Case(headers=headers, body=phone.message([phone.entry()]),
                     media_type="application/json",
                     cookies={cookie.key: cookie.value, **session_of(phone)})  # fmt: skip
    answer = case.call_and_validate(checks=CHECKS)
    assert answer.json()["verdicts"][0]["verdict"] == "applied"


def test_every_address_of_sync_is_tried(operations):
    assert set(OF_SYNC) <= {one.path for one in operations}
