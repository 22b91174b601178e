"""The sentences as a person reads them aloud: one full stop, a space before a unit, no gap left open."""

import re

import pytest

from webapp.clinical import measures

from .calls import answer
from .vectors import all_vectors

TOLD = (
    "judge_reading", "conclude_visit", "conclude_readings", "check_reading", "due_items", "reassessment_due",
)  # fmt: skip
FIELDS = [
    (name, field)
    for name, measure in measures.items()
    for top in measure["fields"]
    for field in (top, *top.get("item", []))
]
FIELD_NAMES = [f"{name}.{field['id']}" for name, field in FIELDS]
OPENINGS = {kind: "Enter " for kind in ("number", "text", "series")} | {
    kind: "Choose " for kind in ("choice", "choices")
}
SLIPS = {
    "two full stops": r"\.\s*\.|[;:,]\.",
    "a number against its unit": r"\d(mmHg|°|%|cm\b|L/min)",
    "a unit no one says": r"/min\b(?<!L/min)",
    "an open place": r"[{}]",
    "two spaces": r"  ",
    "an opening in lower case": r"^[a-z]",
}


def told_by(vector, *keys: str) -> set[str]:
    told = answer(vector.call, vector.given)
    lists = [told.get(name, []) for name in ("findings", "reasons", "errors", "questions", "items")]
    parts = [part for parts in lists for part in parts]
    return {part[key] for part in parts for key in keys if key in part}


VECTORS = [vector for vector in all_vectors() if vector.call in TOLD]
SENTENCES = sorted({text for each in VECTORS for text in told_by(each, "because", "message", "plain", "why")})
WORDS = sorted({text for each in VECTORS for text in told_by(each, "word")})


def test_there_are_sentences_to_read():
    assert len(SENTENCES) > 300 and len(WORDS) > 50


@pytest.mark.parametrize("slip", SLIPS)
def test_no_sentence_has(slip):
    assert [text for text in [*SENTENCES, *WORDS] if re.search(SLIPS[slip], text)] == []


@pytest.mark.parametrize("slip", SLIPS)
def test_a_slip_would_be_noticed(slip):
    spoilt = ["By Dr A..", "124mmHg is high.", "124 /min is fast.", "{rate} is fast.", "Too  wide.", "low."]
    assert sum(bool(re.search(SLIPS[slip], text)) for text in spoilt) == 1


def test_every_sentence_ends_as_one():
    assert [text for text in SENTENCES if not text.endswith((".", "?"))] == []
    assert [word for word in WORDS if word.endswith((".", ":", ","))] == []


@pytest.mark.parametrize(("measure", "field"), FIELDS, ids=FIELD_NAMES)
def test_a_field_that_can_be_required_asks_for_itself(measure, field):
    if field["required"] is False:
        return
    assert field["ask"].startswith(OPENINGS[field["type"]]) and field["ask"].endswith(".")
