"""The canonical text: what is told from a quick look is what the careful look would have told."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sync import canonical as module
from sync.canonical import MAX_DEPTH, SAFE_INTEGER, canonical
from sync.errors import CanonicalError

LEAVES = st.one_of(
    st.none(), st.booleans(), st.integers(), st.integers(SAFE_INTEGER - 2, SAFE_INTEGER + 2), st.floats(),
    st.text(st.characters()), st.sampled_from(["\x00", "\ud800", "é", "\\u0000", "{[", "\u2028"]),
)  # fmt: skip
KEYS = st.one_of(st.text(st.characters(), max_size=4), st.sampled_from(["a", "b", "\x00", "é"]), st.just(1))
VALUES = st.recursive(
    LEAVES, lambda inner: st.one_of(st.lists(inner, max_size=5), st.dictionaries(KEYS, inner, max_size=5))
)


def told(value):
    try:
        return canonical(value)
    except CanonicalError as error:
        return error.code, error.field


def told_carefully(value):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "_plain", lambda _value: False)
        return told(value)


@given(VALUES)
def test_a_quick_look_tells_the_same(value):
    assert told(value) == told_carefully(value)


@pytest.mark.parametrize("wrap", [lambda inner: [inner], lambda inner: {"a": inner}])
@pytest.mark.parametrize("depth", [1, MAX_DEPTH - 1, MAX_DEPTH, MAX_DEPTH + 1, 5000])
def test_also_of_what_is_nested_deeply(wrap, depth):
    value = 1
    for _ in range(depth):
        value = wrap(value)
    found = told(value)
    assert found == told_carefully(value)
    assert isinstance(found, str) == (depth <= MAX_DEPTH)


def test_many_small_objects_side_by_side_are_not_deep():
    assert told([{}] * 100) == "[" + ",".join(["{}"] * 100) + "]" == told_carefully([{}] * 100)
