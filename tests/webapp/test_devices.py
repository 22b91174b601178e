"""What the server knows of a device: a loss on it must show, and a late message must not hide one."""

import json

import pytest
from sqlalchemy import event, select

from tests.webapp.support import NOW, House
from webapp.storage.devices import known_devices, set_revoked
from webapp.storage.models import Device, Entry, Holding


def told(house: House, phone) -> tuple[int, int]:
    with house.database.reading() as session:
        device = session.get_one(Device, (house.organisation, phone.person.id, phone.device))
        return device.unsent, device.last_device_seq


def missing(house: House, phone) -> list[tuple[int, int]]:
    with house.database.reading() as session:
        found = known_devices(session, phone.person.organisation, phone.person.id)
    return [span for each in found if each.id == phone.device for span in each.missing]


def test_an_older_message_that_comes_late_takes_nothing_back(house: House, ann):
    ann.sync(unsent=3, last_device_seq=9)
    ann.sync(unsent=1, last_device_seq=4)
    assert told(house, ann) == (3, 9)
    ann.sync(unsent=0, last_device_seq=9)
    assert told(house, ann) == (0, 9)


def test_what_a_device_says_is_noted_with_its_entries_or_neither_is(house: House, ann, monkeypatch):
    first, second = ann.entry(), ann.entry()
    ann.sync(first, unsent=1)
    with monkeypatch.context() as patch:
        patch.setattr("webapp.features.sync.noting.note_known_device", lambda *_: 1 / 0)
        assert ann.post(ann.message([second], unsent=0)).status_code == 500
    assert told(house, ann)[0] == 1 and entries(house) == [first["id"]]
    ann.sync(second, unsent=0)
    assert told(house, ann)[0] == 0 and entries(house) == [first["id"], second["id"]]


def entries(house: House) -> list[str]:
    with house.database.reading() as session:
        return list(session.scalars(select(Entry.id).order_by(Entry.seq)))


def test_a_push_of_a_known_device_is_one_transaction(house: House, ann):
    """That of a new one is not: making it known may wait for another message of it."""
    commits = []
    event.listen(house.database.engine, "commit", commits.append)
    ann.sync(ann.entry())
    new = len(commits)
    ann.sync(ann.entry())
    assert len(commits) - new == 1 < new


def test_the_numbers_that_never_came_are_named(house: House, ann):
    first, _lost, third = (ann.entry() for _ in range(3))
    held = ann.entry(body={"fields": {}})
    ann.sync(first, third, held, unsent=1)
    assert missing(house, ann) == [(2, 2), (4, 4)]


@pytest.mark.parametrize("sent, claimed, gaps", [
    ((), 0, []),
    ((), 1, [(1, 1)]),
    ((1, 2, 3), 3, []),
    ((1, 2, 3), 2, []),
    ((3, 4, 8), 9, [(1, 2), (5, 7), (9, 9)]),
    ((2, 2, 3), 3, [(1, 1)]),
    ((1, 12, 13), 9, [(2, 9)]),
    ((5,), 2**53 - 1, [(1, 4), (6, 2**53 - 1)]),
])  # fmt: skip
def test_gaps_are_spans_however_many_numbers_a_device_claims(house: House, ann, sent, claimed, gaps):
    """Also when it counted two entries the same, or sent more than it then says it recorded."""
    ann.sync(*(ann.entry(device_seq=number) for number in sent), last_device_seq=claimed)
    assert missing(house, ann) == gaps
    whole = sum(last - first + 1 for first, last in gaps)
    assert lacking(ann) == ([(ann.device, whole)] if whole else [])


def test_nothing_is_missing_of_a_device_never_heard_of(house: House, ann):
    assert missing(house, ann) == []
    other = house.phone("ben")
    other.device = ann.device
    ann.sync(ann.entry())
    other.sync(last_device_seq=2)
    # The same number of another person's on the same device is another device here.
    assert (missing(house, ann), missing(house, other)) == ([], [(1, 2)])


def test_a_withdrawn_device_hands_in_what_it_has_and_is_shown_nothing(house: House, ann):
    """Row 43: revoked with unsent entries. They are kept aside, nothing else reaches the device any more."""
    sent, unsent = ann.entry(), ann.entry()
    before = ann.sync(sent)
    assert before["device_state"] == "active" and before["pull"]["caseload"]["clients"]
    assert set_revoked(house.database, house.organisation, ann.device, NOW)
    answer = ann.sync(sent, unsent)
    assert answer["device_state"] == "revoked"
    assert [(each["verdict"], each.get("code")) for each in answer["verdicts"]] == [
        ("duplicate", None),
        ("held", "device_revoked"),
    ]
    assert (answer["pull"]["entries"], answer["pull"]["caseload"]["clients"]) == ([], [])
    fill = [{"client": house.clients["ann1"], "after": 0}]
    asked = ann.sync(pull={"after": 0, "caseload": None, "fill": fill})["pull"]
    assert (asked["entries"], asked["fill"], asked["more"]) == ([], [], False)
    with house.database.reading() as session:
        kept = session.scalars(select(Holding).where(Holding.device_id == ann.device)).one()
        assert (kept.entry_id, kept.code) == (unsent["id"], "device_revoked")
        assert json.loads(kept.raw) == unsent
        assert session.get(Entry, (house.organisation, unsent["id"])) is None


def test_not_even_an_entry_of_an_unknown_kind_waits_on_a_withdrawn_device(house: House, ann):
    ann.sync()
    set_revoked(house.database, house.organisation, ann.device, NOW)
    strange = ann.entry(kind="of_tomorrow")
    assert ann.verdict(strange)["code"] == ann.verdict("no entry at all")["code"] == "device_revoked"


def test_other_devices_of_the_same_person_go_on(house: House, ann):
    ann.sync()
    other = house.phone("ann")
    set_revoked(house.database, house.organisation, ann.device, NOW)
    assert other.verdict(other.entry())["verdict"] == "applied"
    assert other.sync()["device_state"] == "active"


def test_a_withdrawn_device_is_withdrawn_for_whoever_signs_in_on_it(house: House, ann):
    ann.sync()
    set_revoked(house.database, house.organisation, ann.device, NOW)
    ben = house.phone("ben")
    ben.device = ann.device
    assert ben.verdict(ben.entry())["code"] == "device_revoked"


def test_a_device_that_is_allowed_again_gets_its_caseload_and_may_send_again(house: House, ann):
    ann.sync()
    set_revoked(house.database, house.organisation, ann.device, NOW)
    entry = ann.entry()
    ann.sync(entry)
    set_revoked(house.database, house.organisation, ann.device, None)
    answer = ann.sync(entry)
    assert answer["device_state"] == "active" and answer["verdicts"][0]["verdict"] == "applied"
    assert answer["pull"]["caseload"]["clients"]
    with house.database.reading() as session:
        assert session.scalars(select(Holding)).one().settled_at is not None


def test_there_is_no_withdrawing_a_device_nobody_knows(house: House, ann):
    ann.sync()
    assert not set_revoked(house.database, house.other, ann.device, NOW)
    assert ann.sync()["device_state"] == "active"


def lacking(phone) -> list[tuple[str, int]]:
    facts = phone.browser.get("/api/v1/session").get_json()
    return [(each["device"], each["entries"]) for each in facts["lacking"]]


def test_a_person_is_told_which_of_their_devices_have_not_sent_all(house: House, ann):
    other = house.phone("ann")
    assert lacking(other) == []
    ann.sync(ann.entry(), ann.entry(body={"fields": {}}), unsent=4, last_device_seq=4)
    # Number 2 needs attention and is set aside here: only 3 and 4 are nowhere but on the device.
    assert lacking(other) == [(ann.device, 2)]
    ann.sync(*(ann.entry(device_seq=number, body={"fields": {}}) for number in (6, 9)), last_device_seq=9)
    assert lacking(other) == [(ann.device, 5)]
    assert lacking(house.phone("ben")) == []
    set_revoked(house.database, house.organisation, ann.device, NOW)
    assert lacking(other) == []


def test_the_service_sees_its_devices_and_what_they_lost(house: House, ann):
    ann.sync(ann.entry(), unsent=2, last_device_seq=4)
    house.clock.forward(minutes=1)
    cleo, ben = house.phone("cleo"), house.phone("ben")
    cleo.sync()
    ben.sync()
    with house.database.reading() as session:
        known = known_devices(session, house.organisation)
    assert [(each.id, each.person.name, each.unsent, each.missing) for each in known] == [
        (ben.device, "Ben Example", 0, ()),
        (ann.device, "Ann Example", 2, ((2, 4),)),
    ]
