"""Facts that are formulas, not tables: averages, arms, derived pressures, counted rates, signs."""

from collections.abc import Callable
from typing import Any

from . import derived
from .cuffs import cuff_for
from .decimals import divide_half_up, from_scaled, is_decimal, round_scaled, to_scaled
from .moments import compared
from .wording import listed, unit_label

Body = dict[str, Any]
Facts = dict[str, Any]
_ARMS = ("left", "right")


def blood_pressure(measure: dict[str, Any], body: Body, facts: Facts, context: Body) -> Facts:
    """Averages by arm, the arm that counts, the difference between the arms, pressures derived from them."""
    by_arm = {arm: _pairs(body, arm) for arm in _ARMS}
    used = [arm for arm in _ARMS if by_arm[arm]]
    found: Facts = {**_cuff(facts), **_inflation(measure, facts)}
    if not used:
        return found
    means = {arm: _means(by_arm[arm]) for arm in used}
    arm = max(used, key=lambda name: means[name])
    found |= {"arms_used": used, "arm": arm, "readings_averaged": str(len(by_arm[arm]))}
    found["readings_count"] = str(sum(len(pairs) for pairs in by_arm.values()))
    return found | _by_arm(means) | _judged(means[arm]) | _spread(by_arm, context)


def _pairs(body: Body, arm: str) -> list[tuple[int, int]]:
    readings = _dictionary(body.get("fields")).get("readings")
    items = [item for item in readings if isinstance(item, dict)] if isinstance(readings, list) else []
    return [
        (to_scaled(item["systolic"]), to_scaled(item["diastolic"]))
        for item in items
        if item.get("arm") == arm and is_decimal(item.get("systolic")) and is_decimal(item.get("diastolic"))
    ]


def _means(pairs: list[tuple[int, int]]) -> tuple[int, int]:
    systolic, diastolic = (sum(side) for side in zip(*pairs, strict=True))
    return divide_half_up(systolic, len(pairs)), divide_half_up(diastolic, len(pairs))


def _by_arm(means: dict[str, tuple[int, int]]) -> Facts:
    found: Facts = {}
    for arm, (systolic, diastolic) in means.items():
        found[f"systolic_{arm}"] = from_scaled(round_scaled(systolic, 0))
        found[f"diastolic_{arm}"] = from_scaled(round_scaled(diastolic, 0))
    if len(means) == len(_ARMS):
        left, right = to_scaled(found["systolic_left"]), to_scaled(found["systolic_right"])
        found["arm_difference"] = from_scaled(abs(left - right))
    return found


def _judged(mean: tuple[int, int]) -> Facts:
    systolic, diastolic = (round_scaled(value, 0) for value in mean)
    arterial = divide_half_up(systolic + 2 * diastolic, 3)
    return {
        "systolic": from_scaled(systolic),
        "diastolic": from_scaled(diastolic),
        "systolic_unrounded": from_scaled(round_scaled(mean[0], 2)),
        "diastolic_unrounded": from_scaled(round_scaled(mean[1], 2)),
        "pulse_pressure": from_scaled(systolic - diastolic),
        "mean_arterial_pressure": from_scaled(round_scaled(arterial, 0)),
        "mean_arterial_pressure_unrounded": from_scaled(round_scaled(arterial, 2)),
    }


def _spread(by_arm: dict[str, list[tuple[int, int]]], context: Body) -> Facts:
    # With three readings or more of an arm, the further one has been taken already; a barred arm gets none.
    barred = context.get("precautions") or []
    free = [pairs for arm, pairs in by_arm.items() if f"no_bp_{arm}_arm" not in barred]
    twos = [pairs for pairs in free if len(pairs) == 2]
    gaps = [abs(first[side] - second[side]) for first, second in twos for side in (0, 1)]
    return {"spread_of_two": from_scaled(max(gaps))} if gaps else {}


def _cuff(facts: Facts) -> Facts:
    if "arm_circumference" not in facts:
        return {}
    advised = cuff_for(facts["arm_circumference"])
    if advised is None:
        return {"cuff_in_range": False}
    found: Facts = {"cuff_in_range": True, "cuff_advised": advised}
    if "cuff" in facts:
        found["cuff_matches"] = facts["cuff"] == advised
    return found


def _inflation(measure: dict[str, Any], facts: Facts) -> Facts:
    if "palpated_systolic" not in facts:
        return {}
    margin = measure["parameters"]["inflate_above_estimate"]["value"]
    return {"inflate_to": from_scaled(to_scaled(facts["palpated_systolic"]) + to_scaled(margin))}


def counted(measure: dict[str, Any], body: Body, facts: Facts, context: Body) -> Facts:
    """A rate a minute from a count; a typed rate stays as it is."""
    names = measure["counted"]
    field = next(field for field in measure["fields"] if field["id"] == names["how"])
    way = next((choice for choice in field["choices"] if choice["id"] == facts.get(names["how"])), {})
    if "times" not in way:
        return {}
    if names["count"] not in facts:
        return {names["rate"]: None}
    rate = to_scaled(facts[names["count"]]) * way["times"]
    return {names["rate"]: from_scaled(rate), "counted_seconds": str(way["seconds"])}


def oxygen_scale(measure: dict[str, Any], body: Body, facts: Facts, context: Body) -> Facts:
    """Whether the prescribed 88 to 92 scale is the one to judge by; unknown while precautions are."""
    precautions = context.get("precautions")
    return {"scale_2": "spo2_88_92_prescribed" in precautions} if isinstance(precautions, list) else {}


def warning_signs(measure: dict[str, Any], body: Body, facts: Facts, context: Body) -> Facts:
    """The signs ticked, sorted by what they call for."""
    ticked = facts.get("warning_signs")
    if not ticked:
        return {}
    field = next(field for field in measure["fields"] if field["id"] == "warning_signs")
    signs = {choice["id"]: choice["sign"] for choice in field["choices"] if "sign" in choice}
    found: Facts = {"any_sign": any(item in signs for item in ticked)}
    for kind in ("red", "stop", "care"):
        matching = [item for item in signs if signs[item] == kind and item in ticked]
        found |= {f"{kind}_signs": matching, f"{kind}_count": str(len(matching))}
    return found


def seems(measure: dict[str, Any], body: Body, facts: Facts, context: Body) -> Facts:
    """How the client seems in a few words: the warning signs first, the gravest foremost."""
    choices = {field["id"]: field.get("choices", []) for field in measure["fields"]}
    short = {each["id"]: each.get("short", each["label"].lower()) for each in choices["warning_signs"]}
    signs = [short[sign] for kind in ("red", "stop", "care") for sign in facts.get(f"{kind}_signs", [])]
    alertness = {each["id"]: each for each in choices["consciousness"]}.get(facts.get("consciousness"), {})
    usual = alertness.get("seems", alertness.get("label", "").lower())
    awake = alertness.get("seems_with_signs", usual) if signs else usual
    told = listed(signs, measure["facts"]["seems"]["told"])
    text = "; ".join(part for part in (told, awake) if part)
    return {"seems": text} if text else {}


def as_typed(measure: dict[str, Any], body: Body, facts: Facts, context: Body) -> Facts:
    """Values as they were typed, with their unit; in brackets what they are judged as."""
    units = _dictionary(body.get("units"))
    found: Facts = {}
    for name, fact in measure["facts"].items():
        source = fact.get("typed_from")
        if source in facts:
            usual = next(field["unit"] for field in measure["fields"] if field["id"] == source)
            judged = f"{facts[source]} {unit_label(usual)}"
            unit = units.get(source, usual)
            typed = f"{body['fields'][source]} {unit_label(unit)} ({judged})"
            found[name] = judged if unit == usual else typed
    return found


def _dictionary(value: object) -> Body:
    return value if isinstance(value, dict) else {}


FORMULAS: dict[str, Callable[[dict[str, Any], Body, Facts, Body], Facts]] = {
    "blood_pressure": blood_pressure,
    "counted": counted,
    "oxygen_scale": oxygen_scale,
    "warning_signs": warning_signs,
    "seems": seems,
    "as_typed": as_typed,
    "compared": compared,
    "divided": derived.divided,
    "scored": derived.scored,
    "looked_up": derived.looked_up,
    "best_tries": derived.best_tries,
    "rate_reserve": derived.rate_reserve,
}
