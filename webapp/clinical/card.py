"""Views computed from one client's entries: the card, and the context a judgement needs."""

import re
from typing import Any

from .facts import derive_facts
from .load import data
from .record import Chain, Entry, measured_at, measured_on, option, resolve_details, resolve_entries, standing


def client_card(entries: list[Entry], today: str) -> dict[str, Any]:
    """What the client's page shows, from the entries of one client; `today` is an ISO date."""
    chains = resolve_entries(entries)
    known = resolve_details(chains)
    details = known["details"]
    visits = _visits(chains)
    return {
        "client": entries[0]["client"] if entries else None,
        "name": details.get("name"),
        "preferred_name": details.get("preferred_name"),
        "age": age_on(details.get("birth_date"), today),
        "details": details,
        "seen": known["seen"],
        "precautions": _holding(chains, "precaution", today),
        "contacts": _bodies(chains, "contact"),
        "targets": _holding(chains, "target", today),
        "ended": {kind: _ended(chains, kind, today) for kind in ("precaution", "target")},
        "disagreements": known["disagreements"] + _target_disagreements(chains, today),
        "last": _latest(_readings(standing(chains))),
        "next_planned": _next_planned(visits, today),
        "visits": visits,
    }


def context_for(
    entries: list[Entry], visit_id: str | None, today: str, settings: dict[str, Any] | None = None
) -> dict[str, Any]:
    """The context to judge a visit's readings by; earlier readings are those recorded before it began."""
    chains = resolve_entries(entries)
    details = resolve_details(chains)["details"]
    own = [chain for chain in standing(chains) if visit_id and chain["entry"].get("visit") == visit_id]
    context: dict[str, Any] = {
        "age": age_on(details.get("birth_date"), today),
        "sex": details.get("sex"),
        "precautions": [body["code"] for body in _holding(chains, "precaution", today)],
        "targets": _holding(chains, "target", today),
        "first_visit": _first_visit(chains, own, visit_id),
        "settings": settings or {},
    }
    context["history"] = _history(chains, own, visit_id, context)
    latest = _latest(_readings(own))
    context["reading_facts"] = {name: _facts(chain, context) for name, chain in latest.items()}
    return context


def age_on(birth_date: Any, today: str) -> int | None:
    """Whole years; a birthday counts from its day on (29 February: from 1 March in other years)."""
    born, now = _date(birth_date), _date(today)
    if born is None or now is None or born > now:
        return None
    return now[0] - born[0] - (now[1:] < born[1:])


def _visits(chains: list[Chain]) -> list[dict[str, Any]]:
    """The visits in order of their date, planned or first recorded."""
    visits: dict[str, dict[str, Any]] = {}
    for chain in standing(chains):
        entry = chain["entry"]
        if entry.get("visit") is None:
            continue
        blank = dict.fromkeys(("planned", "started", "conclusion", "finished"))
        own = {"visit": entry["visit"], "date": measured_on(chain), "measures": []}
        _note(visits.setdefault(entry["visit"], {**blank, **own}), chain)
    return sorted(visits.values(), key=_visit_order)


def _note(visit: dict[str, Any], chain: Chain) -> None:
    entry = chain["entry"]
    kind = entry["kind"].removeprefix("visit_")
    if entry["kind"].startswith("visit_") and kind in visit:
        visit[kind] = entry
        if kind == "planned":
            visit["date"] = entry["body"].get("date") or visit["date"]
    elif entry["kind"] in data()["measures"] and entry["kind"] not in visit["measures"]:
        visit["measures"] = [*visit["measures"], entry["kind"]]


def _visit_order(visit: dict[str, Any]) -> tuple[str, str, str]:
    planned = (visit["planned"] or {}).get("body", {})
    return (visit["date"], str(planned.get("time") or ""), visit["visit"])


def _next_planned(visits: list[dict[str, Any]], today: str) -> dict[str, Any] | None:
    """The next visit that is planned for today or later and has not begun."""
    open_visits = [visit for visit in visits if not (visit["started"] or visit["finished"])]
    planned = (visit for visit in open_visits if visit["planned"] and visit["date"] >= today)
    return next((visit["planned"] for visit in planned), None)


def _target_disagreements(chains: list[Chain], today: str) -> list[dict[str, Any]]:
    """Targets of the same field that differ and all still stand: shown until someone voids one."""
    found: dict[str, list[Chain]] = {}
    for chain in standing(chains, "target"):
        body = chain["entry"]["body"]
        if _is_over(body, today):
            continue
        found.setdefault(f"target.{body.get('measure')}.{body.get('field')}", []).append(chain)
    return [
        {"field": name, "options": [_target_option(chain) for chain in reversed(rivals)]}
        for name, rivals in found.items()
        if len({(c["entry"]["body"].get("low"), c["entry"]["body"].get("high")) for c in rivals}) > 1
    ]


def _target_option(chain: Chain) -> dict[str, Any]:
    entry = chain["entry"]
    return option(entry, {end: entry["body"].get(end) for end in ("low", "high", "set_by")})


def _bodies(chains: list[Chain], kind: str) -> list[dict[str, Any]]:
    return [{**chain["entry"]["body"], "entry": chain["entry"]["id"]} for chain in standing(chains, kind)]


def _holding(chains: list[Chain], kind: str, today: str) -> list[dict[str, Any]]:
    """The precautions or targets that hold on a day; one ended on that day no longer does."""
    return [body for body in _bodies(chains, kind) if not _is_over(body, today)]


def _ended(chains: list[Chain], kind: str, today: str) -> list[dict[str, Any]]:
    """Those that have ended, the last to end first: they stay in the record with their day and reason."""
    over = [body for body in _bodies(chains, kind) if _is_over(body, today)]
    return sorted(over, key=lambda body: str(body["ended"]["day"]), reverse=True)


def _is_over(body: dict[str, Any], today: str) -> bool:
    day = (body.get("ended") or {}).get("day")
    return day is not None and day <= today


def _readings(chains: list[Chain]) -> list[Chain]:
    """Those that gave a value."""
    return [chain for chain in chains if chain["entry"]["kind"] in data()["measures"] and _measured(chain)]


def _measured(chain: Chain) -> bool:
    return "not_measured" not in chain["entry"]["body"]


def _latest(chains: list[Chain]) -> dict[str, Chain]:
    return {chain["entry"]["kind"]: chain for chain in chains}


def _facts(chain: Chain, context: dict[str, Any]) -> dict[str, Any]:
    return derive_facts(chain["entry"]["kind"], chain["entry"]["body"], context)


def _history(
    chains: list[Chain], own: list[Chain], visit_id: str | None, context: dict[str, Any]
) -> dict[str, Any]:
    recorded = [chain for chain in own if chain["entry"]["kind"] != "visit_planned"]
    began = min((measured_at(chain) for chain in recorded), default=None)
    history: dict[str, list[Any]] = {}
    for chain in _readings(standing(chains)):
        earlier = began is None or measured_at(chain) < began
        if earlier and (visit_id is None or chain["entry"].get("visit") != visit_id):
            history.setdefault(chain["entry"]["kind"], []).append(_facts(chain, context))
    return history


def _first_visit(chains: list[Chain], own: list[Chain], visit_id: str | None) -> bool:
    started = next((chain["entry"] for chain in own if chain["entry"]["kind"] == "visit_started"), None)
    if started and isinstance(started["body"].get("first"), bool):
        return bool(started["body"]["first"])
    return not any(chain["entry"].get("visit") != visit_id for chain in standing(chains, "visit_started"))


def _date(text: Any) -> tuple[int, int, int] | None:
    match = re.fullmatch(r"([0-9]{4})-([0-9]{2})-([0-9]{2})", text) if isinstance(text, str) else None
    return (int(match[1]), int(match[2]), int(match[3])) if match else None
