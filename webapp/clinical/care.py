"""What a client's entries say about care in time: visits, reassessments, written days, pauses, discharges.

None of it depends on today, so it can be kept and asked again on another day.
"""

from typing import Any

from .days import day_in, is_day
from .described import described_kinds, items_among
from .load import data
from .record import Chain, Entry, measured_on, resolve_entries, standing, version_roots

Facts = dict[str, Any]
Days = dict[str, str]


def care_facts(entries: list[Entry], zone: str | None = None) -> Facts:
    """The facts `due_items` counts from, all days as ISO text.

    A day is the local one where the entry was recorded; `zone` serves entries that do not tell their offset.
    What was recorded at a visit belongs to the visit's day, also when it was written after midnight.
    """
    chains = resolve_entries(entries)
    held = _held(chains, zone)
    days = {chain["root"]: _day(chain, held, zone) for chain in chains}
    days |= {version: days[root] for version, root in version_roots(chains).items()}
    return {
        "held": held,
        "visits": sorted(held.values()),
        "planned": _planned(chains, held),
        "done": _done(chains, days),
        "reviews": _reviews(chains, days),
        "written": _written(chains, days),
        "pauses": _spans(chains, "pause", "from", "to"),
        "discharges": _spans(chains, "discharge", "day", "reopened"),
        "put_off": _put_off(chains, days),
        "own_rules": _own_rules(chains),
        "client_rules": _single(chains, "client_rules"),
        "changes": [],
    }


def _held(chains: list[Chain], zone: str | None) -> Days:
    """The day of every visit that began."""
    started = standing(chains, "visit_started")
    days = [(chain["entry"].get("visit"), _own_day(chain, zone)) for chain in started]
    return {visit: day for visit, day in days if visit and day}


def _own_day(chain: Chain, zone: str | None) -> str:
    first = chain["original"] or chain["entry"]
    if zone and first.get("utc_offset") is None and first.get("recorded_at"):
        return day_in(first["recorded_at"], zone)
    return measured_on(chain)


def _day(chain: Chain, held: Days, zone: str | None) -> str:
    return held.get(chain["entry"].get("visit") or "") or _own_day(chain, zone)


def _planned(chains: list[Chain], held: Days) -> list[str]:
    """The days of the visits that are planned and have not begun."""
    planned = [chain["entry"] for chain in standing(chains, "visit_planned")]
    days = [entry["body"].get("date") for entry in planned if entry.get("visit") not in held]
    return sorted(day for day in days if is_day(day))


def _done(chains: list[Chain], days: Days) -> list[Facts]:
    """What was reassessed on which day, the oldest first; a plan looked at again counts for some rules."""
    found = []
    for chain in standing(chains):
        entry = chain["entry"]
        fields = entry["body"].get("fields") or {}
        how = {"reassessed": fields.get("scope"), "plan_review": "plan_review"}.get(entry["kind"])
        if how and days[chain["root"]]:
            found.append({"day": days[chain["root"]], "how": how})
    return sorted(found, key=lambda each: each["day"])


def _reviews(chains: list[Chain], days: Days) -> dict[str, list[str]]:
    """The days on which each item was reviewed."""
    found: dict[str, list[str]] = {}
    for kind in sorted({rule["reviewed_by"] for rule in _day_rules() if "reviewed_by" in rule}):
        for chain in standing(chains, kind):
            found.setdefault(chain["entry"]["body"].get("about") or "", []).append(days[chain["root"]])
    return found


def _day_rules() -> list[Facts]:
    return [rule for rule in data()["reassessment"]["rules"] if rule["type"] == "written_day"]


def _written(chains: list[Chain], days: Days) -> dict[str, list[Facts]]:
    """The days written in the record by "kind.field", each with the day on which it was written."""
    fields = [(rule["kind"], rule["field"]) for rule in _day_rules()] + [("care_period", "starts_on")]
    return {f"{kind}.{field}": _days_of(chains, kind, field, days) for kind, field in dict.fromkeys(fields)}


def _days_of(chains: list[Chain], kind: str, field: str, days: Days) -> list[Facts]:
    single = described_kinds()[kind]["shape"] == "single"
    found = [
        {
            "about": None if single else item["item"],
            "name": None if single else item["fields"].get("name"),
            "day": item["fields"].get(field),
            "set_on": max((days[one] for one in item["seen"].get(field, [])), default=""),
            "reason": item["fields"].get("reason"),
        }
        for item in items_among(chains, kind)
        if not item["fields"].get("ended")
    ]
    return [each for each in found if is_day(each["day"]) and is_day(each["set_on"])]


def _spans(chains: list[Chain], kind: str, begin: str, end: str) -> list[Facts]:
    """The pauses or discharges in order: the day each began, the day it ended or None, and why."""
    found = []
    for item in items_among(chains, kind):
        first, ended = item["fields"].get(begin), item["fields"].get("ended") or {}
        if is_day(first):
            last = ended.get("day") if is_day(ended.get("day")) else None
            found.append({begin: first, end: last, "reason": item["fields"].get("reason")})
    return sorted(found, key=lambda span: span[begin])


def _put_off(chains: list[Chain], days: Days) -> list[Facts]:
    found = []
    for chain in standing(chains, "postponement"):
        fields = chain["entry"]["body"].get("fields") or {}
        told = {name: fields.get(name) for name in ("due", "until", "reason")}
        if is_day(told["until"]):
            found.append({**told, "day": days[chain["root"]], "entry": chain["entry"]["id"]})
    return found


def _own_rules(chains: list[Chain]) -> list[Facts]:
    items = items_among(chains, "reassessment_rule")
    return [{"item": each["item"], **each["fields"]} for each in items if not each["fields"].get("ended")]


def _single(chains: list[Chain], kind: str) -> Facts:
    return next((item["fields"] for item in items_among(chains, kind)), {})
