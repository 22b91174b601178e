"""What the sync benchmarks move: readings of invented visits, without a note, the same for everybody."""

import itertools
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from random import Random
from typing import Any

from demo_home_visits.build import Scenario
from sync.client import Client
from sync.uuid7 import uuid7
from webapp.clinical import measures, quick_check

BETWEEN = timedelta(seconds=90)


def readings(scenario: Scenario, author: str) -> list[dict[str, Any]]:
    """Every measured reading of the scenario that its author made and nobody had to say a word about."""
    own = [entry for entry in scenario.entries if entry["author"] == author]
    return [entry for entry in own if entry["kind"] in measures and "fields" in entry["body"]]


class Watch:
    """A clock that starts far enough back to end before now, and goes on whenever somebody looks at it."""

    def __init__(self, entries: int) -> None:
        self.moment = datetime.now(UTC) - 3 * entries * BETWEEN  # a device looks at it also when it syncs

    def __call__(self) -> float:
        self.moment += BETWEEN
        return self.moment.timestamp()


def record(client: Client, scenario: Scenario, count: int, seed: int) -> None:
    """Record so many readings on a device, a visit's six together, with ids nobody has used."""
    endless, random = itertools.cycle(readings(scenario, client.session()["user"]["id"])), Random(seed)
    for number, entry in enumerate(itertools.islice(endless, count)):
        visit = uuid7(1_700_000_000_000 + number // 6, (seed * 1_000_000 + number // 6).to_bytes(10, "big"))
        client.record(entry["kind"], entry["client"], another_day(entry, random), visit=visit)


def another_day(entry: dict[str, Any], random: Random) -> dict[str, Any]:
    """The same measured on another day: every number up to three of its last digit more or less.

    Without it the server would soon have seen every reading before.
    """
    body = entry["body"] | {"fields": _varied(entry["body"]["fields"], random)}
    return body if quick_check(entry["kind"], body) else entry["body"]


def _varied(value: Any, random: Random) -> Any:
    if isinstance(value, dict):
        return {key: _varied(inner, random) for key, inner in value.items()}
    if isinstance(value, list):
        return [_varied(inner, random) for inner in value]
    if not isinstance(value, str) or not value.replace(".", "", 1).isdecimal():
        return value
    number = Decimal(value)
    step = Decimal(random.randint(-3, 3)).scaleb(int(number.as_tuple().exponent))
    return f"{max(number + step, Decimal(0)).normalize():f}"
