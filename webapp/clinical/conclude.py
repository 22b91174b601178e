"""The conclusion of a visit's readings, with its reasons."""

from typing import Any

from .load import data
from .sections import counting
from .wording import fill

Judgement = dict[str, Any]
Reason = dict[str, Any]
_SILENT = ("go_on", "note")


def conclude(judgements: list[Judgement], context: dict[str, Any] | None = None) -> dict[str, Any]:
    """{"conclusion", "reasons", "missing", "recorded", "of"}: the highest level found, never from nothing.

    Several judgements of one measure all count, but one marked "superseded" is only told. What is found in
    an offered measure counts like all else; that it was left out neither raises nor lowers anything.
    """
    names = counting()
    standing = [judgement for judgement in judgements if not _superseded(judgement, judgements)]
    taken = {judgement["measure"] for judgement in standing if judgement["measured"]}
    measured = [name for name in names if name in taken]
    missing = [name for name in names if name not in taken]
    offered = [name for name in data()["index"]["measures"] if name in taken and name not in names]
    reasons = _reasons(standing)
    reasons = _graver_first([*reasons, *_gaps(measured, offered, reasons)])
    level = reasons[0]["level"] if reasons else "go_on"
    reasons += _earlier([judgement for judgement in judgements if _superseded(judgement, judgements)])
    if missing and taken:
        reasons.append(_reason("missing", {"missing": _titles(missing)}))
    if offered:
        reasons.append(_reason("offered", {"offered": _titles(offered)}))
    count = {"recorded": len(measured), "of": len(names)}
    if level == "go_on":
        words = {name: str(number) for name, number in count.items()}
        reasons.append(_reason("all_clear", {**words, "measured": _titles(measured)}))
    return {"conclusion": level, "reasons": reasons, "missing": missing, **count}


def _superseded(judgement: Judgement, judgements: list[Judgement]) -> bool:
    """Measured again on purpose; with nothing measured in its place it still stands."""
    others = (other for other in judgements if other["measure"] == judgement["measure"])
    return bool(judgement.get("superseded")) and any(
        other["measured"] and not other.get("superseded") for other in others
    )


def _gaps(measured: list[str], offered: list[str], reasons: list[Reason]) -> list[Reason]:
    """What has to be known before a go on."""
    first = data()["conclusions"]["comes_first"]
    if not measured and not offered:
        return [_reason("nothing_measured", {})]
    if first not in measured:
        return [_reason("presentation_missing", {})]
    return [_reason("vitals_missing", {})] if measured == [first] and not reasons else []


def _reasons(judgements: list[Judgement]) -> list[Reason]:
    """The findings that matter, in the order of the measures."""
    order = data()["index"]["measures"]
    return [
        {"measure": judgement["measure"], **{name: found[name] for name in ("rule", "level", "because")}}
        for judgement in sorted(judgements, key=lambda judgement: order.index(judgement["measure"]))
        for found in judgement["findings"]
        if found["level"] not in _SILENT
    ]


def _graver_first(reasons: list[Reason]) -> list[Reason]:
    levels = data()["index"]["levels"]
    return sorted(reasons, key=lambda reason: -levels.index(reason["level"]))


def _earlier(judgements: list[Judgement]) -> list[Reason]:
    """What a reading said that was measured again: told, and without weight."""
    words = data()["conclusions"]["earlier"]
    found = _graver_first(_reasons(judgements))
    return [{**reason, "level": "note", "because": fill(words, reason)} for reason in found]


def _reason(name: str, words: dict[str, str]) -> Reason:
    text = data()["conclusions"]["reasons"][name]
    because = fill(text["because"], words)
    return {"rule": f"visit.{name}", "measure": None, "level": text["level"], "because": because}


def _titles(names: list[str]) -> str:
    return ", ".join(data()["measures"][name]["title"].lower() for name in names)
