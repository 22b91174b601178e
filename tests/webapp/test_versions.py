"""What apps of earlier versions sent (tests/vectors/sync/versions): today's server answers it as then."""

import json
from datetime import datetime, timedelta
from typing import Any

import pytest

from sync.messages import SETTLED
from tests.sync.test_vectors import FOLDER
from tests.webapp.support import House
from webapp.storage import assign_caseload, end_caseload

VERSIONS = sorted(path.name for path in (FOLDER / "versions").iterdir())


def recorded(version: str, house: House) -> list[dict[str, Any]]:
    """What was said and done in a version's story, as if this house's Ann had been the person."""
    text = (FOLDER / "versions" / version / "exchanges.json").read_text("utf-8")
    ids = json.loads(text)["ids"]
    present = {
        "person": house.people["ann"].id,
        "one": house.clients["ann1"],
        "two": house.clients["ann2"],
        "bens": house.clients["ben1"],
    }
    for name, now in present.items():
        text = text.replace(ids[name], now)
    return [each for each in json.loads(text)["exchanges"] if "act" in each or each["request"]]


def at_that_time(house: House, exchanges: list[dict[str, Any]]) -> None:
    """Turn the clock to the day of the recording: what was recorded must not lie in the future."""
    last = max(each["reply"]["server_time"] for each in exchanges if "act" not in each)
    house.clock.moment = datetime.fromisoformat(last) + timedelta(seconds=1)


def act(house: House, said: str) -> None:
    """What the service did with Ben's client between two messages of Ann."""
    person, client = house.people["ann"], house.clients["ben1"]
    if said == "assign":
        assign_caseload(house.database, person, [client], since=house.clock())
    else:
        end_caseload(house.database, person, client, until=house.clock())


def shape(value: Any) -> Any:
    """The keys of a reply's objects, through all of it; of lists only what their items have in common."""
    if isinstance(value, dict):
        return {key: shape(inner) for key, inner in value.items()}
    return None


def has(value: Any, expected: Any) -> bool:
    if expected is None:
        return True
    return isinstance(value, dict) and all(
        key in value and has(value[key], inner) for key, inner in expected.items()
    )


def pulled(reply: dict[str, Any]) -> list[tuple[str, set[str]]]:
    return [(entry["id"], set(entry)) for entry in reply["pull"]["entries"]]


def still_told(now: dict[str, Any], then: dict[str, Any]) -> list[tuple[str, set[str]]]:
    """What was told then, but for short forms of what a verdict of the same answer gives the number of."""
    numbered = {one["id"] for one in now["verdicts"] if one["verdict"] in SETTLED and "seq" in one}
    return [(own, keys) for own, keys in pulled(then) if own not in numbered or "hash" not in keys]


def test_two_earlier_versions_are_there():
    assert {"1", "2"} <= set(VERSIONS)


@pytest.mark.parametrize("version", VERSIONS)
def test_an_earlier_app_is_answered_as_it_was_then(house: House, version):
    exchanges, epoch, after = recorded(version, house), None, {}
    at_that_time(house, exchanges)
    ann = house.phone("ann")
    assert len(exchanges) > 2
    for each in exchanges:
        if "act" in each:
            act(house, each["act"])
            house.clock.forward(seconds=1)
            continue
        request, then = each["request"], each["reply"]
        request["epoch"] = epoch if request["epoch"] else None
        # Caseloads have other names here: the one told last, where that app named the one it was told last.
        known = after.get(request["device"])
        request["pull"]["caseload"] = known and request["pull"]["caseload"] and known
        now = ann.post(request).get_json()
        epoch = now["epoch"]
        told = now["pull"]["caseload"]
        after[request["device"]] = told["version"] if told else known
        said = [(verdict["id"], verdict["verdict"], verdict.get("code")) for verdict in now["verdicts"]]
        assert said == [(one["id"], one["verdict"], one.get("code")) for one in then["verdicts"]]
        assert pulled(now) == still_told(now, then)
        assert now["pull"]["fill"] == then["pull"]["fill"]
        assert clients_of(now) == clients_of(then)
        assert has(now, shape(then)), "every key that app reads is there"


def clients_of(reply: dict[str, Any]) -> list[str] | None:
    told = reply["pull"]["caseload"]
    return told and sorted(told["clients"])
