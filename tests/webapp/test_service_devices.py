"""The commands about devices: what they list, withdraw, allow again, and refuse."""

import uuid

import pytest

from tests.webapp.support import SERVICE as NAME
from tests.webapp.support import House


def test_the_list_says_whose_when_and_what_is_not_here(house: House, ann, run):
    assert run("devices") == (0, f"{NAME}: 0 devices\n", "")
    ann.sync(ann.entry(), unsent=1, last_device_seq=5)
    done, told, _ = run("devices")
    assert done == 0
    assert told.splitlines() == [
        f"{NAME}: 1 device",
        "",
        ann.device,
        "  A phone, Ann Example, in service",
        "  last sync 2026-11-25 09:40 UTC, then 1 entry unsent",
        "  not here: 4 entries (number 2 to 5)",
        "  waiting on the device, or lost with it",
    ]


def test_a_device_is_withdrawn_and_allowed_again(house: House, ann, run):
    ann.sync()
    done, told, _ = run("device", "revoke", ann.device)
    assert done == 0 and told.startswith(f"{ann.device}\nIt is withdrawn.")
    assert ", withdrawn 20" in run("devices")[1]
    assert ann.sync()["device_state"] == "revoked"
    assert run("device", "allow", ann.device)[0] == 0
    assert ann.sync()["device_state"] == "active"


def test_a_device_of_another_service_is_not_there(house: House, run):
    cleo = house.phone("cleo")
    cleo.sync()
    for own in (cleo.device, str(uuid.uuid4())):
        done, told, wrong = run("device", "revoke", own)
        assert (done, told) == (1, "") and wrong.startswith(f"{NAME} has no device {own}.")
    assert cleo.sync()["device_state"] == "active"


@pytest.mark.parametrize("own", ["not-an-id", "", "0" * 400])
def test_what_is_no_id_is_refused_in_words(house: House, run, own):
    done, told, wrong = run("device", "revoke", own)
    assert (done, told) == (1, "") and "no device" in wrong
