"""Which phones hold what when a copy of the log is put back: none of it may be lost from then on."""

from collections.abc import Iterable

from tests.sync.simulation.phone import Phone

Witnesses = dict[str, set[tuple[str, str]]]


def witnesses_of(phones: Iterable[Phone]) -> Witnesses:
    """Of every entry that came to a phone, the phones with the people whose store holds it."""
    found: Witnesses = {}
    for phone in phones:
        for person, store in phone.stores.items():
            state = store.get()
            for own in {**state.entries, **state.returning}:
                found.setdefault(own, set()).add((phone.name, person))
    return found


def no_witness(witnesses: Witnesses, phone: Phone, *people: str) -> None:
    """What a phone lost itself nobody can ask of it."""
    for held in witnesses.values():
        held -= {(phone.name, person) for person in people}
