"""What stands aside of devices, as those see it who decide about it."""

from tests.webapp.support import NOW, House
from tests.webapp.test_admitting import log
from tests.webapp.test_handing_back import Held
from tests.webapp.test_handing_back import held as held
from tests.webapp.test_rights import led as led
from webapp.storage import end_caseload


def test_the_commands_list_and_take_each_kind_by_itself(led: House, held: Held, run, monkeypatch):
    monkeypatch.setattr("webapp.service.held.utc_now", led.clock)
    device, first, second = held.phone.device, *held.entries
    held.give_back(first, receipt=None, covers=[])
    end_caseload(led.database, held.phone.person, led.clients["ann1"], until=NOW)
    held.give_back(second)
    done, told, _ = run("held")
    assert done == 0 and told.startswith("Larkmere Home Therapy: 2 items\n") and "confidence" not in told
    commands = [line.strip() for line in told.splitlines() if "held admit" in line]
    assert commands == [f"held admit {device} --why put_aside", f"held admit {device} --why unproved"]
    assert "handed back and proved" in told and "handed back without proof" in told
    assert run("held", "admit", device)[::2] == (1, "Nothing is kept aside of this device.\n")
    for command, own in zip(commands, (second, first), strict=True):
        done, told, _ = run(*command.split())
        assert done == 0 and told.startswith("1 item taken into the record")
        assert log(led)[-1]["id"] == own["id"]
    assert run("held")[1] == "Larkmere Home Therapy: nothing is kept aside for a decision\n"
