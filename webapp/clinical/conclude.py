"""The conclusion of a visit's readings, with its reasons."""

from typing import Any

from .load import data
from .wording import fill

Judgement = dict[str, Any]
Reason = dict[str, Any]
_SILENT = ("go_on", "note")


def conclude(judgements: list[Judgement], context: dict[str, Any] | None = None) -> dict[str, Any]:
    """{"conclusion", "reasons", "missing"}: the highest level found; nothing measured is never a go on."""
    measured = [judgement["measure"] for judgement in judgements if judgement["measured"]]
    missing = [name for name in data()["index"]["measures"] if name not in measured]
    reasons = _ranked(judgements)
    if not measured:
        reasons.append(_reason("nothing_measured", {}))
    level = max((reason["level"] for reason in reasons), key=_rank, default="go_on")
    if level == "go_on":
        reasons.append(_reason("all_clear", {"measured": _titles(measured)}))
    if missing and measured:
        reasons.append(_reason("missing", {"missing": _titles(missing)}))
    return {"conclusion": level, "reasons": reasons, "missing": missing}


def _ranked(judgements: list[Judgement]) -> list[Reason]:
    order = data()["index"]["measures"]
    placed = sorted(judgements, key=lambda judgement: order.index(judgement["measure"]))
    reasons = [
        {"measure": judgement["measure"], **{name: found[name] for name in ("rule", "level", "because")}}
        for judgement in placed
        for found in judgement["findings"]
        if found["level"] not in _SILENT
    ]
    return sorted(reasons, key=lambda reason: -_rank(reason["level"]))


def _rank(level: str) -> int:
    return data()["index"]["levels"].index(level)


def _reason(name: str, words: dict[str, str]) -> Reason:
    text = data()["conclusions"]["reasons"][name]
    because = fill(text["because"], words)
    return {"rule": f"visit.{name}", "measure": None, "level": text["level"], "because": because}


def _titles(names: list[str]) -> str:
    measures = data()["measures"]
    return ", ".join(measures[name]["title"].lower() for name in data()["index"]["measures"] if name in names)
