"""Make entries the way a device does, but from a seed: the same day gives the same scenario."""

import random
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from demo_home_visits.local_time import utc_offset
from sync.uuid7 import RANDOM_BYTES, uuid7

BEGINNING = datetime(2025, 1, 6, 8, 0, tzinfo=UTC)


def steady_id(*name: str) -> str:
    """Return the id of something that is the same every day: a client, a person, a device."""
    source = random.Random("/".join(name))
    return uuid7(milliseconds(BEGINNING), source.randbytes(RANDOM_BYTES))


def user_id(key: str) -> str:
    return steady_id("user", key)


def device_id(key: str) -> str:
    return steady_id("device", key)


def milliseconds(moment: datetime) -> int:
    return int(moment.timestamp() * 1000)


def as_text(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


@dataclass
class EntryMaker:
    """Makes the entries about one client, recorded by one person on one device unless told otherwise."""

    client: str
    author: str
    device: str
    source: random.Random
    made: list[dict[str, Any]] = field(default_factory=list)

    def add(self, kind: str, moment: datetime, body: dict[str, Any], **other: Any) -> dict[str, Any]:
        """Make one entry; `device_seq` is put right when everything the device recorded is known."""
        entry = {
            "id": uuid7(milliseconds(moment), self.source.randbytes(RANDOM_BYTES)),
            "kind": kind,
            "schema": 1,
            "client": self.client,
            "visit": None,
            "recorded_at": as_text(moment),
            "utc_offset": utc_offset(moment.date()),
            "author": self.author,
            "device": self.device,
            "device_seq": len(self.made) + 1,
            "amends": None,
            "voids": None,
            "reason": None,
            "body": body,
            **other,
        }
        self.made.append(entry)
        return entry

    def new_id(self, moment: datetime) -> str:
        return uuid7(milliseconds(moment), self.source.randbytes(RANDOM_BYTES))


def number_by_device(entries: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return the entries in the order they were recorded, each device's numbered from 1 without a gap."""
    in_order = sorted(entries, key=lambda entry: (entry["recorded_at"], entry["id"]))
    counts: dict[str, int] = {}
    for entry in in_order:
        counts[entry["device"]] = counts.get(entry["device"], 0) + 1
        entry["device_seq"] = counts[entry["device"]]
    return in_order
