"""A field left empty is asked for by the server in the words in which the phone asks for it."""

import copy
from collections.abc import Iterator
from typing import Any

import pytest

from tests.webapp.support import entry_of, refusal_of
from tests.webapp.test_validation import GOOD, UUID
from webapp.clinical import check_reading, measure_order, measures

WHOLE = {kind: body for kind, body in reversed(GOOD) if kind in measures and "fields" in body}


def required(items: list[dict[str, Any]], path: tuple = ()) -> Iterator[tuple]:
    """The paths of fields that must always be there, also within a series."""
    for item in items:
        here = (*path, item["id"])
        if item.get("required") is True:
            yield here
        if item["type"] == "series":
            yield from required(item["item"], (*here, 0))


CASES = [(kind, path) for kind in measure_order for path in required(measures[kind]["fields"])]


def without(body: dict[str, Any], path: tuple) -> dict[str, Any]:
    made = copy.deepcopy(body)
    *steps, last = path
    place: Any = made["fields"]
    for step in steps:
        place = place[step]
    del place[last]
    return made


def test_there_is_a_case_of_every_measure():
    assert {kind for kind, _ in CASES} == set(measure_order) == set(WHOLE)


@pytest.mark.parametrize(("kind", "path"), CASES, ids=lambda value: ".".join(map(str, value))
                         if isinstance(value, tuple) else value)  # fmt: skip
def test_the_server_asks_as_the_phone_does(kind, path):
    body = without(WHOLE[kind], path)
    [phone] = check_reading(kind, body)["errors"]
    server = refusal_of(entry_of(kind, body, visit=UUID))
    assert (server["code"], server["field"], server["message"]) == (
        phone["code"], phone["field"], phone["message"])  # fmt: skip


def test_a_measure_words_its_own_questions():
    held = refusal_of(entry_of("pulse", without(WHOLE["pulse"], ("how",)), visit=UUID))
    assert held["message"] == "Choose how it was counted."
