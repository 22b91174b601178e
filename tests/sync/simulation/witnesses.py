"""Which phones hold what when a copy of the log is put back: none of it may be lost from then on."""

from collections.abc import Callable, Iterable

from tests.sync.simulation.phone import Phone

# By organisation and id.
Witnesses = dict[tuple[str, str], set[tuple[str, str]]]


def witnesses_of(phones: Iterable[Phone], home: Callable[[str], str]) -> Witnesses:
    """Of every entry that came to a phone from the server, the phones and people whose store holds it."""
    found: Witnesses = {}
    for phone in phones:
        for person in phone.stores:
            state = phone.state_of(person)
            for own in {**state.entries, **state.returning}:
                found.setdefault((home(person), own), set()).add((phone.name, person))
    return found


def no_witness(witnesses: Witnesses, phone: Phone, *people: str) -> None:
    """What a phone lost itself nobody can ask of it."""
    for held in witnesses.values():
        held -= {(phone.name, person) for person in people}
