"""What a client is found by: names as they may be typed, and details that were corrected or disagree."""

import pytest

from webapp.storage.client_keys import client_key, keys_of, normal

BORN = "1948-03-02"


def details(own: str, amends=None, voids=None, seen=None, **values) -> dict:
    body = {} if voids else {"set": values, "seen": seen or {}}
    return {"id": own, "amends": amends, "voids": voids, "body": body}


def found(entries: list[dict], name: str, born: str = BORN) -> bool:
    return client_key(name, born) in keys_of(entries)


@pytest.mark.parametrize(("typed", "as_recorded"), [
    ("kovářová-shaw", "Kovářová-Shaw"),
    ("KOVAROVA SHAW", "Kovářová-Shaw"),
    ("  Adela   Kovarova‐Shaw ", "Adéla Kovářová-Shaw"),
    ("OBrien", "O’Brien"),
    ("o'brien", "O’Brien"),
    ("Lodz", "Łódź"),
    ("strasse", "Straße"),
    ("Ｗａｄｅ", "Wade"),
    ("İnce", "ince"),
    ("Иванова", "ИВАНОВА"),
])  # fmt: skip
def test_spellings_of_the_same_name(typed, as_recorded):
    assert normal(typed) == normal(as_recorded)


@pytest.mark.parametrize(("one", "other"), [("Wade", "Wades"), ("Ann Wade", "Anne Wade"), ("Li", "Lin")])
def test_other_names_are_other_people(one, other):
    assert normal(one) != normal(other)


def test_the_full_name_and_every_family_name_it_may_end_in():
    entries = [details("a", name="Ada van der Berg", birth_date=BORN)]
    for name in ("Ada van der Berg", "van der Berg", "der Berg", "Berg"):
        assert found(entries, name)
    for name in ("Ada", "van", "Ada Berg", "", "Ber"):
        assert not found(entries, name)
    assert not found(entries, "Berg", "1948-03-03")


def test_without_a_name_or_a_date_there_is_no_key():
    assert keys_of([details("a", name="Ada Berg")]) == keys_of([details("a", birth_date=BORN)]) == set()
    assert keys_of([details("a", name="- ' -", birth_date=BORN)]) == set()
    assert keys_of([]) == set()


def test_a_corrected_or_withdrawn_value_no_longer_counts():
    first = details("a", name="Ada Berk", birth_date=BORN)
    mended = details("b", amends="a", name="Ada Berg", birth_date=BORN)
    assert found([first, mended], "Berg") and not found([first, mended], "Berk")
    gone = details("c", voids="b")
    assert keys_of([first, mended, gone]) == set()


def test_a_value_that_was_seen_and_set_anew_is_replaced():
    first = details("a", name="Ada Berg", birth_date=BORN)
    married = details("b", name="Ada Lund", seen={"name": ["a"]})
    assert found([first, married], "Lund") and not found([first, married], "Berg")
    mended = details("c", amends="a", name="Ada Bergh", birth_date=BORN)
    assert not found([first, mended, married], "Bergh")


def test_where_two_disagree_both_values_count():
    entries = [details("a", name="Ada Berg", birth_date=BORN), details("b", birth_date="1984-03-02")]
    assert found(entries, "Berg") and found(entries, "Berg", "1984-03-02")


def test_a_loop_of_corrections_ends():
    assert keys_of([details("a", amends="b", name="x"), details("b", amends="a", birth_date=BORN)]) == set()
