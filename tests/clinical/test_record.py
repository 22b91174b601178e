"""Properties of the resolved log that hold for any entries: order of arrival, repetition, nothing lost."""

import json

import pytest

from webapp.clinical import client_card, context_for, judge_visit, resolve_entries

from .random_cases import Maker

LOGS = [Maker(seed).log() for seed in range(120)]
TODAY = "2026-11-25"


def text(value) -> str:
    return json.dumps(value, sort_keys=True)


@pytest.mark.parametrize("seed", range(0, 120, 10))
def test_the_order_of_arrival_makes_no_difference(seed):
    for entries in LOGS[seed : seed + 10]:
        backwards = list(reversed(entries))
        assert text(resolve_entries(entries)) == text(resolve_entries(backwards))
        assert text(client_card(entries, TODAY)) == text(client_card(backwards, TODAY))
        assert text(context_for(entries, "v1", TODAY)) == text(context_for(backwards, "v1", TODAY))


def test_an_entry_received_twice_counts_once():
    for entries in LOGS:
        assert text(client_card(entries + entries, TODAY)) == text(client_card(entries, TODAY))


def test_every_entry_stands_in_exactly_one_chain():
    for entries in LOGS:
        chains = resolve_entries(entries)
        roots = [chain["root"] for chain in chains]
        assert len(set(roots)) == len(roots)
        named = {entry["id"] for chain in chains for entry in chain_entries(chain)}
        voids = {entry["id"] for entry in entries if entry["voids"]}
        assert {entry["id"] for entry in entries} - voids <= named


def chain_entries(chain):
    versions = (chain["original"], *chain["amended_by"], chain["voided"], chain["entry"])
    return [entry for entry in versions if entry]


def test_nothing_that_was_given_is_changed():
    for entries in LOGS[:40]:
        before = text(entries)
        context = context_for(entries, "v1", TODAY)
        client_card(entries, TODAY)
        judge_visit({}, context)
        assert text(entries) == before


def test_the_logs_hold_what_they_are_for():
    chains = [chain for entries in LOGS for chain in resolve_entries(entries)]
    assert any(chain["amended_twice"] for chain in chains)
    assert any(chain["voided"] for chain in chains)
    assert any(chain["original"] is None for chain in chains)
    assert any(client_card(entries, TODAY)["disagreements"] for entries in LOGS)
