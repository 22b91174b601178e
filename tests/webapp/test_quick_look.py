"""The quick look at an entry says yes to what its schema takes, and to nothing else."""

import copy
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from marshmallow import ValidationError, fields

from demo_home_visits.build import build
from webapp.schemas.check import SCHEMAS
from webapp.schemas.envelope import EntrySchema
from webapp.schemas.fields import Strict, text
from webapp.schemas.quick_look import quick_look

ENTRIES = [
    {key: value for key, value in entry.items() if key in EntrySchema._declared_fields}
    for entry in build(date(2026, 3, 4)).entries
]
ONE_OF_EACH = list({(each["kind"], *sorted(each["body"])): each for each in ENTRIES}.values())
OWN = "019aaaaa-0000-7000-8000-000000000000"
NUMBERS = [0, 1, -1, 2**53, 10**30, 1.5, "0", "-0", "36.8", "36.80", "1,5", "1e3", "٣"]
MOMENTS = [
    "2026-02-30T10:00:00.000Z",
    "2026-02-28T10:00:00.000Z",
    "2026-02-28T10:00Z",
    "2026-02-28T24:00:00.000Z",
]
DAYS = ["2026-02-30", "2026-02-28", "24:00", "09:30", "09:30\n"]
OTHERS = [None, True, False, "", " ", "x" * 20_001, OWN, OWN.upper(), [], [None], ["a", "a"]]
ODD = st.sampled_from([*NUMBERS, *MOMENTS, *DAYS, *OTHERS, {}, {"a": 1}]).map(copy.deepcopy)


def loads(schema, value):
    try:
        schema().load(value)
    except ValidationError:
        return False
    return True


def places(value):
    """Every container in a value, and each of its keys."""
    keys = value.keys() if isinstance(value, dict) else range(len(value)) if isinstance(value, list) else ()
    for key in list(keys):
        yield value, key
        yield from places(value[key])


@st.composite
def spoilt(draw):
    """A good entry of any kind with one or two places changed, taken out or added to."""
    entry = copy.deepcopy(draw(st.sampled_from(ONE_OF_EACH)))
    for _ in range(draw(st.integers(0, 2))):
        holder, key = draw(st.sampled_from(list(places(entry))))
        what = draw(st.sampled_from(["changed", "changed", "out", "more"]))
        if what == "out":
            del holder[key]
        elif what == "more" and isinstance(holder, dict):
            holder[draw(st.sampled_from(["unknown", "amends", "ended", "note", "fields"]))] = draw(ODD)
        else:
            holder[key] = draw(ODD)
        if not list(places(entry)):
            break
    return entry


@settings(max_examples=600)
@given(spoilt())
def test_it_says_what_the_schemas_say(entry):
    assert quick_look(EntrySchema)(entry) == loads(EntrySchema, entry)
    kind = entry.get("kind")
    if isinstance(kind, str) and kind in SCHEMAS:
        schema = SCHEMAS[kind]
        assert quick_look(schema)(entry.get("body")) == loads(schema, entry.get("body"))


def test_everything_in_order_is_seen_to_be_so():
    # Nobody in the demo was discharged or has rules of a service's own.
    assert set(SCHEMAS) - {each["kind"] for each in ENTRIES} == {"discharge", "client_rules"}
    for entry in ENTRIES:
        assert quick_look(EntrySchema)(entry), entry
        assert entry["voids"] or quick_look(SCHEMAS[entry["kind"]])(entry["body"]), entry


class Renamed(Strict):
    """Reads a field under another name."""

    one = text(10, data_key="other")


class Supplied(Strict):
    """Supplies what is missing."""

    one = text(10, load_default="")


class Several(Strict):
    """Nests a list of another."""

    one = fields.Nested(Supplied, many=True)


@pytest.mark.parametrize("schema", [Renamed, Supplied, Several])
def test_a_schema_it_cannot_speak_for_is_refused(schema):
    with pytest.raises(TypeError):
        quick_look(schema)
