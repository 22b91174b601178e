"""The envelope of an entry: every key is there and is what it should be."""

import pytest

from tests.webapp.support import entry_of, refusal_of

UUID = "00000000-0000-4000-8000-00000000000a"
ENVELOPE = [
    ({"kind": "Temperature"}, "held", "unknown_kind", "kind"),
    ({"kind": "temperature; drop table"}, "held", "unknown_kind", "kind"),
    ({"kind": "balance_test"}, "later", "unknown_kind", "kind"),
    ({"schema": 2}, "later", "newer_schema", "schema"),
    ({"schema": 0}, "held", "impossible", "schema"),
    ({"schema": "1"}, "held", None, "schema"),
    ({"client": "x"}, "held", "not_an_id", "client"),
    ({"client": None}, "held", "required", "client"),
    ({"visit": "x"}, "held", "not_an_id", "visit"),
    ({"recorded_at": "2026-11-26T09:40:00.001Z"}, "held", "future_date", "recorded_at"),
    ({"recorded_at": "2126-11-25T09:40:00.000Z"}, "held", "future_date", "recorded_at"),
    ({"recorded_at": "2026-11-25T09:40:00Z"}, "held", "not_a_time", "recorded_at"),
    ({"recorded_at": "2026-11-25T09:40:00.000+00:00"}, "held", "not_a_time", "recorded_at"),
    ({"recorded_at": "2026-02-30T09:40:00.000Z"}, "held", "not_a_time", "recorded_at"),
    ({"recorded_at": 1764063612123}, "held", "wrong_type", "recorded_at"),
    ({"utc_offset": 3000}, "held", "impossible", "utc_offset"),
    ({"device": "A"}, "held", "not_an_id", "device"),
    ({"device_seq": 0}, "held", "impossible", "device_seq"),
    ({"device_seq": 2**53}, "held", "not_exact", "device_seq"),
    ({"amends": UUID}, "held", "required", "reason"),
    ({"amends": UUID, "reason": " "}, "held", "required", "reason"),
    ({"voids": UUID, "reason": "x"}, "held", "unknown_field", "body"),
    ({"voids": UUID, "amends": UUID, "reason": "x"}, "held", "two_targets", "voids"),
    ({"body": []}, "held", None, "body"),
    ({"body": None}, "held", "required", "body"),
    ({"organisation": UUID}, "held", "unknown_field", "organisation"),
    ({"seq": 1}, "held", "unknown_field", "seq"),
    ({"reason": 3}, "held", "wrong_type", "reason"),
    ({"id": "x"}, "held", "not_an_id", "id"),
    ({"author": UUID}, "held", "wrong_author", "author"),
    ({"id": None}, "held", "required", "id"),
]


@pytest.mark.parametrize(("change", "word", "code", "field"), ENVELOPE)
def test_the_envelope(change, word, code, field):
    verdict = refusal_of(entry_of() | change)
    assert (verdict["verdict"], verdict["field"]) == (word, field)
    if code is not None:
        assert verdict["code"] == code
    assert verdict["message"].endswith(".")


@pytest.mark.parametrize(
    "key",
    [
        "kind",
        "schema",
        "client",
        "visit",
        "recorded_at",
        "utc_offset",
        "author",
        "device",
        "device_seq",
        "amends",
        "voids",
        "reason",
        "body",
        "id",
    ],
)
def test_every_key_must_be_there(key):
    entry = entry_of()
    del entry[key]
    verdict = refusal_of(entry)
    assert (verdict["verdict"], verdict["code"], verdict["field"]) == ("held", "required", key)


@pytest.mark.parametrize("kind", ["visit_planned", "visit_started", "visit_conclusion", "visit_finished"])
def test_what_belongs_to_a_visit_names_it(kind):
    verdict = refusal_of(entry_of(kind, {}))
    assert (verdict["verdict"], verdict["code"], verdict["field"]) == ("held", "required", "visit")
