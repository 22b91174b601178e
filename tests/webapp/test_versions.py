"""What apps of earlier versions sent (tests/vectors/sync/versions): today's server answers it as then."""

import json
from typing import Any

import pytest

from tests.sync.test_vectors import FOLDER
from tests.webapp.support import House

VERSIONS = sorted(path.name for path in (FOLDER / "versions").iterdir())


def recorded(version: str, house: House) -> list[dict[str, Any]]:
    """The exchanges of a version, as if this house's Ann had been the person."""
    text = (FOLDER / "versions" / version / "exchanges.json").read_text("utf-8")
    ids = json.loads(text)["ids"]
    present = {"person": house.people["ann"].id, "one": house.clients["ann1"], "two": house.clients["ann2"]}
    for name, now in present.items():
        text = text.replace(ids[name], now)
    return [each for each in json.loads(text)["exchanges"] if each["request"]]


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


def test_version_1_is_there():
    assert "1" in VERSIONS


@pytest.mark.parametrize("version", VERSIONS)
def test_an_earlier_app_is_answered_as_it_was_then(house: House, ann, version):
    exchanges, epoch, after = recorded(version, house), None, {}
    assert len(exchanges) > 2
    for each in exchanges:
        request, then = each["request"], each["reply"]
        request["epoch"] = epoch if request["epoch"] else None
        request["pull"]["caseload"] = after.get(request["device"]) and request["pull"]["caseload"]
        now = ann.post(request).get_json()
        epoch = now["epoch"]
        after[request["device"]] = now["pull"]["after"]
        said = [(verdict["id"], verdict["verdict"], verdict.get("code")) for verdict in now["verdicts"]]
        assert said == [(one["id"], one["verdict"], one.get("code")) for one in then["verdicts"]]
        assert pulled(now) == pulled(then)
        assert has(now, shape(then)), "every key that app reads is there"
