"""What must hold whenever nothing moves any more."""

import json
from datetime import timedelta
from typing import Any

from sync.canonical import entry_hash
from sync.device import State
from sync.instants import read_instant
from sync.messages import Pull, Request, request_json
from tests.sync.simulation.browser_phone import BrowserPhone
from tests.sync.simulation.memory import Row
from tests.sync.simulation.phone import Saved
from tests.sync.simulation.service import SYNC
from tests.sync.simulation.world import ORGANISATION, OTHER, World
from webapp.clinical import resolve_entries
from webapp.clinical.record import resolve_details

ORGANISATIONS = (ORGANISATION, OTHER)
DAY = timedelta(hours=24)
COLLECTOR = "00000000-0000-4000-8000-0000000000dd"


def check(world: World) -> None:
    """Everything, at a quiet point."""
    states = [phone.state_of(person) for phone in world.phones for person in phone.stores]
    stores: dict[str, list[State]] = {}
    for state in states:
        for name in (state.device, *state.former):
            stores.setdefault(name, []).append(state)
    rows = {own: {row.entry["id"]: row for row in world.service.rows(own)} for own in ORGANISATIONS}
    for own in ORGANISATIONS:
        check_log(world, own)
    for saved in world.saved:
        row = rows[world.home(saved.person)].get(saved.entry["id"])
        check_saved(world, saved, row, stores.get(saved.entry["device"], []))
    for (own, name), digest in world.acknowledged.items():
        assert name in rows[own] and rows[own][name].hash == digest, "called stored, and is not"
    check_witnesses(world, states, rows)
    check_numbers(world, stores)
    shown = [state for state in states if not is_withdrawn(world, state)]
    for state in shown:
        check_holding(world, state, rows[world.home(str(state.person))])
        check_counters(world, state)
    for state in states:
        if state not in shown:
            check_withdrawn(state)
            world.seen["withdrawn, another goes on"] += state.person in {other.person for other in shown}
    check_cursors(world, shown)
    check_details(world, shown)
    check_both_languages(world)


def is_withdrawn(world: World, state: State) -> bool:
    return bool(world.service.is_revoked(str(state.person), state.device))


def check_withdrawn(state: State) -> None:
    """A device that was withdrawn holds what it could not hand in, and nothing else."""
    waiting = {entry["client"] for own, entry in state.outbox.items() if own not in state.held}
    assert not state.clients and not state.filling
    assert {entry["client"] for entry in state.entries.values()} <= waiting


def check_log(world: World, organisation: str) -> None:
    """Numbers without holes, no id twice, nothing changed, nobody's entries but its own people's."""
    rows = world.service.rows(organisation)
    assert [row.seq for row in rows] == list(range(1, len(rows) + 1))
    assert len({row.entry["id"] for row in rows}) == len(rows)
    assert {world.home(row.entry["author"]) for row in rows} <= {organisation}
    # Two phones made of one backup count on by themselves: their numbers meet, their entries do not.
    single = [row.entry for row in rows if row.entry["device"] not in world.copied]
    numbers = {(entry["author"], entry["device"], entry["device_seq"]) for entry in single}
    assert len(numbers) == len(single)
    assert all(entry_hash(row.entry) == row.hash for row in rows)
    known: dict[str, Row] = {}
    for row in rows:
        target = row.entry["amends"] or row.entry["voids"]
        assert target is None or target in known, "a correction before what it corrects"
        known[row.entry["id"]] = row


def check_saved(world: World, saved: Saved, row: Row | None, states: list[State]) -> None:
    """What was called saved is on the server, or waits with a true reason, or its loss can be explained."""
    own, there = saved.entry["id"], row is not None and row.hash == saved.hash
    holding = [state for state in states if own in state.outbox]
    waits = bool(holding)
    assert not (there and waits), "stored, and still called unsent"
    if there:
        return
    if waits:
        for state in holding:
            assert state.outbox[own] == saved.entry
            assert is_true(world, saved, state, row), state.verdicts.get(own)
        return
    wiped = saved.entry["device"] in world.wiped
    let_go = (saved.entry["device"], own) in world.released
    let_go = let_go and (world.home(saved.person), own) in world.dropped
    explained = wiped or let_go or saved.hash in world.forgotten
    assert explained, f"lost: {saved.entry['kind']} {saved.entry['device_seq']}"


def check_witnesses(world: World, states: list[State], rows: dict[str, dict[str, Row]]) -> None:
    """What any phone held when the log was restored is in it again, or aside, or waits for a true reason."""
    kept = {(own, name) for own in ORGANISATIONS for name in (*rows[own], *world.service.set_aside(own))}
    kept |= {
        (world.home(str(state.person)), own) for state in states for own in (*state.outbox, *state.returning)
    }
    gone = [own for own, held in world.witnesses.items() if held and own not in kept]
    assert not gone, f"lost, though a phone held it: {gone}"
    world.seen["handed back for good"] += sum(bool(held) for held in world.witnesses.values())
    for state in states:
        check_returning(world, state, rows[world.home(str(state.person))])


def check_returning(world: World, state: State, rows: dict[str, Row]) -> None:
    """What is still to be handed back stays for a true reason."""
    aside = world.service.set_aside(world.home(str(state.person)))
    for own, entry in state.returning.items():
        verdict, target = state.returned.get(own), entry["amends"] or entry["voids"]
        truths = {
            # Of a client who has left nobody tells this device that the log has it since.
            "put_aside": own in aside or (own in rows and entry["client"] not in state.clients),
            "clash": own in rows and rows[own].hash != entry_hash(dict(entry)),
            "target_missing": target not in rows,
            "target_held": target not in rows,
        }
        assert verdict is not None and truths.get(verdict.code or "", False), f"still here: {verdict}"


def is_true(world: World, saved: Saved, state: State, row: Row | None) -> bool:
    """Whether the reason that a phone shows is so, by rules written down here once more."""
    entry, verdict = saved.entry, state.verdicts.get(saved.entry["id"])
    code = verdict.code if verdict else None
    recorded = read_instant(entry["recorded_at"])
    limit = world.service.writable_until(saved.person).get(entry["client"])
    target = entry["amends"] or entry["voids"]
    stored = {row.entry["id"] for row in world.service.rows(world.home(saved.person))}
    truths = {
        "not_found": limit is None or recorded > limit,
        "future_date": recorded > world.now + DAY or clock_is_off(world, state),
        "own_clock": saved.skew > DAY,
        "target_missing": target not in stored,
        "clash": row is not None and row.hash != saved.hash,
        "device_revoked": is_withdrawn(world, state),
    }
    truths["target_held"] = truths["target_missing"]
    return truths.get(code or "", False)


def clock_is_off(world: World, state: State) -> bool:
    """Whether the phone that holds this has a clock with which the server's does not agree."""
    phones = [phone for phone in world.phones if state.person in phone.stores]
    return any(abs(each.skew) > DAY and each.state_of(state.person).device == state.device for each in phones)


def check_numbers(world: World, stores: dict[str, list[State]]) -> None:
    """No number given twice or skipped; what was lost shows as a gap as far as the device was heard of."""
    given: dict[str, list[int]] = {}
    owners = {saved.entry["device"]: saved.person for saved in world.saved}
    for saved in world.saved:
        given.setdefault(saved.entry["device"], []).append(saved.entry["device_seq"])
    for device, numbers in given.items():
        if device in world.copied:
            continue
        assert sorted(numbers) == list(range(1, len(numbers) + 1))
        rows = world.service.rows(world.home(owners[device]))
        stored = {row.entry["device_seq"] for row in rows if row.entry["device"] == device}
        report = world.service.report(owners[device], device)
        missing = set(world.service.missing(owners[device], device))
        lost = set(numbers) - stored
        if device in stores:
            # It was heard of just now: what is missing beyond what waits there is what was lost.
            assert report is not None and missing == lost
        else:
            # Of what it recorded after it was heard of last nobody but the phone knew.
            known = world.reported[owners[device], device]
            assert {number for number in lost if number <= known} <= missing
            world.seen["loss told"] += bool(missing)


def check_holding(world: World, state: State, rows: dict[str, Row]) -> None:
    """Exactly what the server holds of the caseload, under the same numbers; nothing of anybody else."""
    clients = world.service.clients(str(state.person))
    due = {own: (row.hash, row.seq) for own, row in rows.items() if row.entry["client"] in clients}
    # The twin of what is to be sent or handed back is kept apart: a screen cannot tell the two apart.
    due = {own: facts for own, facts in due.items() if own not in apart(state)}
    # What waits for something that was lost keeps the record of a client who left, as the protocol says.
    leaving = {entry["client"] for own, entry in state.outbox.items() if own not in state.held} - set(clients)
    held = {own: (entry_hash(dict(entry)), entry["seq"]) for own, entry in state.entries.items()
            if entry["client"] not in leaving}  # fmt: skip
    assert held == due
    assert list(state.clients) == clients and not state.filling
    assert not set(state.entries) & set(state.outbox)


def apart(state: State) -> set[str]:
    """The ids of what is not the server's yet, as this device sees it."""
    return {*state.outbox, *state.returning}


def check_counters(world: World, state: State) -> None:
    """What is counted is what is there."""
    home = world.home(str(state.person))
    assert state.after == len(world.service.rows(home)) == world.service.head(home)
    assert set(state.verdicts) == set(state.outbox)
    assert set(state.held) <= set(state.outbox)
    report = world.service.report(str(state.person), state.device)
    assert report is not None
    told, true = (report.unsent, report.last_device_seq), (len(state.outbox), state.device_seq)
    assert told == true or state.device in world.copied


def check_cursors(world: World, shown: list[State]) -> None:
    """At every place where a pull from zero stops, it has brought what devices hold up to there."""
    for person in world.people:
        states = [state for state in shown if state.person == person]
        holding = [hashes_of(state) for state in states]
        cookie, collected, after, more = world.service.sign_in(person), {}, 0, True
        while more:
            pull = pulled(world, person, cookie, after)
            collected |= {entry["id"]: entry_hash(entry) for entry in pull["entries"]}
            after, more = pull["after"], pull["more"]
            for state, hashes in zip(states, holding, strict=True):
                here = {own: digest for own, (seq, digest) in hashes.items() if seq <= after}
                assert here == {own: digest for own, digest in collected.items() if own not in apart(state)}


def hashes_of(state: State) -> dict[str, tuple[int, str]]:
    return {
        own: (entry["seq"], entry_hash(dict(entry)))
        for own, entry in state.entries.items()
        if entry["client"] in state.clients
    }


def pulled(world: World, person: str, cookie: str | None, after: int) -> Any:
    epoch = world.service.epoch(world.home(person))
    request = Request("simulation", COLLECTOR, "collector", epoch, 0, 0, (), Pull(after))
    asked = json.dumps(request_json(request)).encode()
    return world.service.handle(asked, cookie, SYNC, {}).json()["pull"]


def details_of(client: str, state: State) -> Any:
    own = [dict(entry) for entry in state.entries.values() if entry["client"] == client]
    return resolve_details(resolve_entries(own))


def check_both_languages(world: World) -> None:
    """The browser's code finds the same details and the same disagreements in the same entries."""
    for phone in world.phones:
        if isinstance(phone, BrowserPhone):
            for person in list(phone.stores):
                state, found = phone.state_of(person), phone.details(person)
                here = {client: details_of(client, state) for client in state.clients}
                assert found == json.loads(json.dumps(here))
                world.seen["both languages"] += any(one["disagreements"] for one in here.values())


def check_details(world: World, states: list[State]) -> None:
    """Whoever sees a client sees the same details and the same disagreements."""
    for organisation in ORGANISATIONS:
        stored = {row.entry["id"] for row in world.service.rows(organisation)}
        here = [state for state in states if world.home(str(state.person)) == organisation]
        # Where a twin waits in the outbox, its other half is not on the screen.
        whole = [state for state in here if not apart(state) & stored]
        for client in world.clients:
            shown = [details_of(client, state) for state in whole if client in state.clients]
            assert all(one == shown[0] for one in shown)
            world.seen["disagreements"] += bool(shown and shown[0]["disagreements"])
