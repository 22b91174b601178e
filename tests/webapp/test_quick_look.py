"""The quick look at an entry says yes to what its schema takes, and to nothing else."""

import ast
import copy
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from marshmallow import ValidationError, fields, validate

from demo_home_visits.build import build
from webapp.schemas.check import SCHEMAS
from webapp.schemas.envelope import EntrySchema
from webapp.schemas.fields import Day, Decimal, Flag, Id, Moment, Strict, choice, many, text, whole
from webapp.schemas.quick_look import quick_look, text_of
from webapp.schemas.said import said

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
OTHERS = [None, True, False, "", " ", "x" * 20_001, OWN, OWN.upper(), OWN + "\n", [], [None], ["a", "a"]]
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


def _agree(given):
    if given.get("one") == given["two"]:
        raise said("impossible", "These may not be the same.", "one")


def _not_odd(value):
    if len(value) % 2:
        raise said("impossible", "This must be even.")


class Agreeing(Strict):
    """A rule of the whole, one field of which is required."""

    one = text(3)
    two = text(3, required=True)
    whole = (_agree,)


# Every kind of field and validator, and whatever the look must ask marshmallow about.
KINDS = {
    "text": lambda **o: text(3, shortest=1, **o),
    "exact": lambda **o: fields.String(validate=validate.Length(equal=2), **o),
    "least": lambda **o: fields.String(validate=validate.Length(min=2), **o),
    "pattern": lambda **o: fields.String(validate=validate.Regexp("a.?b"), **o),
    "choice": lambda **o: choice(["a", "b'\"}"], **o),
    "others": lambda **o: fields.String(validate=validate.NoneOf(["a"]), **o),
    "even": lambda **o: fields.String(validate=_not_odd, **o),
    "whole": lambda **o: whole(-1, 2, **o),
    "above": lambda **o: fields.Integer(
        strict=True, validate=validate.Range(min=0, max=2, min_inclusive=False), **o
    ),
    "from": lambda **o: fields.Integer(strict=True, validate=validate.Range(min=1), **o),
    "loose": lambda **o: fields.Integer(validate=validate.Range(min=0, max=1), **o),
    "number": lambda **o: fields.Float(validate=validate.Range(max=1.5), **o),
    "id": lambda **o: Id(**o),
    "day": lambda **o: Day(**o),
    "moment": lambda **o: Moment(**o),
    "decimal": lambda **o: Decimal(decimals=1, **o),
    "flag": lambda **o: Flag(**o),
    "texts": lambda **o: many(text(3, allow_none=True), most=2, least=1, **o),
    "wholes": lambda **o: fields.List(fields.Integer(), validate=_not_odd, **o),
    "object": lambda **o: fields.Dict(keys=fields.String(), **o),
    "of numbers": lambda **o: fields.Dict(keys=fields.String(), values=fields.Integer(), **o),
    "nested": lambda **o: fields.Nested(Agreeing, **o),
    "several": lambda **o: fields.List(fields.Nested(Agreeing), **o),
}
CALLED = st.sampled_from(["one", "class", "x", "value", "look", "it's", 'a"b', "{x}", "a\nb", "\\", "é", ""])
MADE_UP = st.one_of(
    ODD, st.sampled_from(["a", "ab", "a\nb", "abc", "abcd", "b'\"}", 2, "1.5", "2026-02-28T10:00:00.000Z"]),
    st.lists(st.sampled_from(["a", "abcd", None, 1, {"two": "a"}]), max_size=3),
    st.dictionaries(st.sampled_from(["one", "two", "more"]), st.sampled_from(["a", "b", None, 1, "abcd"])),
)  # fmt: skip


@st.composite
def made_up(draw):
    """A schema of some fields under any names, and a value with some of these names or one more."""
    names = draw(st.lists(CALLED, unique=True, max_size=4))
    options = st.fixed_dictionaries({}, optional={"required": st.booleans(), "allow_none": st.booleans()})
    declared = {each: KINDS[draw(st.sampled_from(sorted(KINDS)))](**draw(options)) for each in names}
    present = [each for each in names if draw(st.integers(0, 5))]
    present += ["else"] if draw(st.integers(0, 9)) == 0 else []
    return type("MadeUp", (Strict,), declared), {each: draw(MADE_UP) for each in present}


@settings(max_examples=3000)
@given(made_up())
def test_it_says_what_any_schema_says(both):
    schema, value = both
    assert quick_look.__wrapped__(schema)(value) == loads(schema, value)


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_each_kind_of_field_is_looked_at(kind):
    schema = type("One", (Strict,), {"one": KINDS[kind](required=True)})
    other = type("Other", (Strict,), {"one": KINDS[kind](allow_none=True)})
    taken = [
        None, "a", "ab", "abc", "abcd", "a\nb", "cab", "", " ", "b'\"}", 0, -1, 1, 2, 3, True, 1.0, 1.5, 2.5,
        "1", "1.5", "1.50", OWN, OWN + "0", "2026-02-28", "2026-02-28T10:00:00.000Z", [], ["a"], ["a", None],
        ["abcd"], ["a", "a", "a"], [1, 2], [1], {}, {"a": 1}, {"a": "b"}, {"two": "a"},
        {"one": "a", "two": "a"}, [{"two": "a"}], [{}], [None],
    ]  # fmt: skip
    answers = set()
    for made in (schema, other):
        assert quick_look(made)({}) == loads(made, {}) == (made is other)
        for value in taken:
            answers.add(quick_look(made)({"one": value}))
            assert quick_look(made)({"one": value}) == loads(made, {"one": value}), value
    assert answers == {True, False}


def test_what_is_not_an_object_is_not_taken():
    for value in (None, [], "two", {"two"}, [("two", "a")]):
        assert not quick_look(Agreeing)(value) and not loads(Agreeing, value)


@pytest.mark.parametrize("schema", [EntrySchema, *SCHEMAS.values()], ids=lambda it: it.__name__)
def test_of_texts_only_names_of_fields_are_compiled(schema):
    compiled = ast.walk(ast.parse(text_of(schema)[0]))
    constants = {node.value for node in compiled if isinstance(node, ast.Constant)}
    assert {each for each in constants if type(each) is not int} - {None, False, True} == set(schema().fields)


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
