"""The log resolved: which version of each entry stands, what was voided, which details disagree."""

from datetime import datetime, timedelta
from typing import Any

Entry = dict[str, Any]
Chain = dict[str, Any]


def order_key(entry: Entry) -> tuple[int, int, str, str]:
    """The order of the log: by the server's number, then what still waits, in the device's own order."""
    seq = entry.get("seq")
    if seq is not None:
        return (0, seq, "", "")
    return (1, entry.get("device_seq") or 0, str(entry.get("device") or ""), entry["id"])


def resolve_entries(entries: list[Entry]) -> list[Chain]:
    """One item a chain, in the order the originals were recorded.

    {"entry": the version that stands, "original": None when not here yet, "amended_by": [...],
    "voided": the void entry or None, "amended_twice": bool, "root": id of the original}
    """
    unique = {entry["id"]: entry for entry in entries}
    ordered = sorted(unique.values(), key=order_key)
    chains: dict[str, list[Entry]] = {}
    for entry in ordered:
        chains.setdefault(_root(entry, unique), []).append(entry)
    return sorted((_chain(root, links) for root, links in chains.items()), key=_recorded)


def _link(entry: Entry) -> str | None:
    return entry.get("amends") or entry.get("voids")


def _root(entry: Entry, entries: dict[str, Entry]) -> str:
    seen: set[str] = set()
    at = entry["id"]
    # A loop can only come from a broken device; it ends at the smallest id, the same on every device.
    while at in entries and _link(entries[at]) and at not in seen:
        seen.add(at)
        at = str(_link(entries[at]))
    return min(seen) if at in seen else at


def _chain(root: str, links: list[Entry]) -> Chain:
    named = {_link(entry) for entry in links}
    changes = [entry for entry in links if entry["id"] != root or _link(entry)]
    amendments = [entry for entry in changes if not entry.get("voids")]
    leaves = [entry for entry in changes if entry["id"] not in named]
    # A void stands beside later amendments that had not seen it; only amending the void itself lifts it.
    voids = [entry for entry in leaves if entry.get("voids")]
    original = next((entry for entry in links if entry["id"] == root and not _link(entry)), None)
    live = [entry for entry in leaves if not entry.get("voids")] or amendments
    standing = live[-1] if live else original or links[-1]
    return {
        "root": root,
        "entry": standing,
        "original": original,
        "amended_by": amendments,
        "voided": voids[-1] if voids else None,
        "amended_twice": len(leaves) > 1,
    }


def _recorded(chain: Chain) -> tuple[Any, ...]:
    first = chain["original"] or chain["entry"]
    return (str(first.get("recorded_at") or ""), *order_key(first))


def measured_at(chain: Chain) -> str:
    """When the thing was first recorded: amending a reading does not move it in time."""
    return str((chain["original"] or chain["entry"]).get("recorded_at") or "")


def measured_on(chain: Chain) -> str:
    """The day on which that was, where it was recorded (an ISO date, empty where the moment is none)."""
    entry = chain["original"] or chain["entry"]
    try:
        moment = datetime.fromisoformat(str(entry.get("recorded_at") or ""))
    except ValueError:
        return ""
    # Near midnight the universal day is another.
    return (moment + timedelta(minutes=entry.get("utc_offset") or 0)).date().isoformat()


def standing(chains: list[Chain], kind: str | None = None) -> list[Chain]:
    """The chains that are not voided, of one kind or of all; `chains` as resolve_entries gives them."""
    return [chain for chain in chains if not chain["voided"] and kind in (None, chain["entry"]["kind"])]


def resolve_details(resolved: list[Chain]) -> dict[str, Any]:
    """{"details": {field: value}, "disagreements": [...], "seen": {field: [ids]}}, from all chains."""
    known = resolve_fields(standing(resolved, "details"), version_roots(resolved))
    return {"details": known.pop("fields"), **known}


def version_roots(resolved: list[Chain]) -> dict[str, str]:
    """For every version of every chain the id of its root."""
    return {entry["id"]: chain["root"] for chain in resolved for entry in _versions(chain)}


def resolve_fields(chains: list[Chain], roots: dict[str, str]) -> dict[str, Any]:
    """{"fields": {field: value}, "disagreements": [...], "seen": {field: [ids]}} of chains that set fields.

    A value stands until a later entry that had seen it sets the field again. Two that had not seen each
    other and differ disagree: both are kept; the later in the log's order is shown first.
    """
    fields, disagreements, seen = {}, [], {}
    for field in sorted({name for chain in chains for name in _set(chain)}):
        heads = _heads(field, [chain for chain in chains if field in _set(chain)], roots)
        fields[field] = _set(heads[-1])[field]
        seen[field] = [head["entry"]["id"] for head in heads]
        if any(_set(head)[field] != fields[field] for head in heads):
            options = [option(head["entry"], _set(head)[field]) for head in reversed(heads)]
            disagreements.append({"field": field, "options": options})
    return {"fields": fields, "disagreements": disagreements, "seen": seen}


def _versions(chain: Chain) -> list[Entry]:
    return [entry for entry in (chain["original"], *chain["amended_by"], chain["voided"]) if entry]


def _set(chain: Chain) -> dict[str, Any]:
    return chain["entry"]["body"].get("set") or {}


def _heads(field: str, chains: list[Chain], roots: dict[str, str]) -> list[Chain]:
    """The chains whose value of the field nobody has seen and replaced, in the log's order."""
    replaced = set()
    for chain in chains:
        known = (chain["entry"]["body"].get("seen") or {}).get(field) or []
        replaced |= {roots.get(one, one) for one in known} - {chain["root"]}
    heads = [chain for chain in chains if chain["root"] not in replaced] or chains[-1:]
    return sorted(heads, key=lambda chain: order_key(chain["entry"]))


def option(entry: Entry, value: Any) -> dict[str, Any]:
    """One side of a disagreement: what it says, in which entry, by whom and when."""
    by = {name: entry.get(name) for name in ("author", "recorded_at")}
    return {"value": value, "entry": entry["id"], **by}
