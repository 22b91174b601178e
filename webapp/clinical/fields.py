"""One value against its field: kind, unit, digits, limits, choices."""

import re
from typing import Any

from .decimals import is_decimal, to_scaled
from .load import data
from .parse import is_canonical, parse_number
from .units import canonical, convert
from .wording import ask_for, message, unit_words

Problem = dict[str, Any]
Field = dict[str, Any]


def problem(code: str, path: str, **values: str) -> Problem:
    """One thing wrong, with its sentence."""
    return {"field": path, "code": code, "message": message(code, **values)}


def required(field: Field, path: str) -> Problem:
    """The error of a field that has to be filled in."""
    return {"field": path, "code": "required", "message": ask_for(field)}


def missing(value: Any) -> bool:
    """Whether nothing was filled in."""
    return value is None or value == "" or value == []


def check_value(
    field: Field, value: Any, path: str, units: Any, measure: Field | None = None, scope: Field | None = None
) -> list[Problem]:
    """What is wrong with one value, or what to ask about it."""
    if field["type"] == "number":
        unit = units.get(path, field["unit"]) if isinstance(units, dict) else field["unit"]
        return _number(field, value, path, unit, measure, scope or {})
    if field["type"] == "choice":
        return _choice(field, value, path)
    if field["type"] == "choices":
        return _choices(field, value, path)
    right = bool if field["type"] == "flag" else str
    if type(value) is not right:
        return [problem("wrong_type", path, label=field["label"])]
    too_long = isinstance(value, str) and len(value) > data()["index"]["text_limit"]
    return [problem("too_long", path)] if too_long else []


def _choice(field: Field, value: Any, path: str) -> list[Problem]:
    if not isinstance(value, str):
        return [problem("wrong_type", path, label=field["label"])]
    known = any(value == choice["id"] for choice in field["choices"])
    return [] if known else [problem("unknown_choice", path, label=field["label"])]


def _choices(field: Field, value: Any, path: str) -> list[Problem]:
    if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
        return [problem("wrong_type", path, label=field["label"])]
    if any(item not in [choice["id"] for choice in field["choices"]] for item in value):
        return [problem("unknown_choice", path, label=field["label"])]
    if len(set(value)) != len(value):
        return [problem("repeated", path, label=field["label"])]
    alone = [choice for choice in field["choices"] if choice.get("alone") and choice["id"] in value]
    if alone and len(value) > 1:
        return [problem("alone", path, label=field["label"], choice=alone[0]["label"])]
    return []


def _number(
    field: Field, value: Any, path: str, unit: Any, measure: Field | None, scope: Field
) -> list[Problem]:
    if not any(unit == choice["code"] for choice in field["units"]):
        return [problem("wrong_unit", path, label=field["label"])]
    if not isinstance(value, str):
        return [problem("wrong_type", path, label=field["label"])]
    if not is_canonical(value, field["decimals"]):
        return [_not_canonical(field, value, path)]
    if "limits_of" in field and measure:
        return _limits_of(field, path, measure, scope)
    return _limits(field, value, unit, path)


def _not_canonical(field: Field, value: str, path: str) -> Problem:
    parsed = parse_number(value, field["decimals"])
    if "error" in parsed:
        return {"field": path, "code": parsed["error"], "message": parsed["message"]}
    return problem("not_canonical", path, value=parsed["value"])


def _limits_of(field: Field, path: str, measure: Field, scope: Field) -> list[Problem]:
    """A count has no limits of its own: the rate it gives is held against the rate's."""
    judged = next(other for other in measure["fields"] if other["id"] == field["limits_of"])
    rate = scope.get(judged["id"])
    return _limits(judged, rate, judged["unit"], path, counted=field) if is_decimal(rate) else []


def _limits(
    field: Field, value: str, unit: str, path: str, counted: Field | None = None
) -> list[Problem]:
    if not _within(field["impossible"], value, unit):
        return [_impossible(field, value, unit, path, counted)]
    if not _within(field["unlikely"], value, unit):
        told = message("unlikely_count" if counted else "unlikely", **_words(field, value, unit, counted))
        return [{"field": path, "code": "unlikely", "message": told, "level": "question"}]
    return []


def _impossible(field: Field, value: str, unit: str, path: str, counted: Field | None) -> Problem:
    words = _words(field, value, unit, counted) | _limit_words(field, unit)
    told = message("impossible_count" if counted else "impossible", **words)
    offer = _offer(field, value, unit)
    found: Problem = {"field": path, "code": "impossible", "message": told + _offer_words(offer, unit)}
    return {**found, "offer": offer} if offer else found


def _words(field: Field, value: str, unit: str, counted: Field | None) -> dict[str, str]:
    return {"label": (counted or field)["label"], "value": value, "unit": unit_words(unit)}


def _limit_words(field: Field, unit: str) -> dict[str, str]:
    """The limits in the unit that was typed; in the field's own where rounding would tell a refused value."""
    told = {end: convert(limit, field["unit"], unit) for end, limit in field["impossible"].items()}
    if not all(_within(field["impossible"], limit, unit) for limit in told.values()):
        return {**field["impossible"], "limit_unit": unit_words(field["unit"])}
    return {**told, "limit_unit": unit_words(unit)}


def _within(limits: dict[str, str], value: str, unit: str) -> bool:
    told = canonical(value, unit)
    if not is_decimal(told):  # converted, it is too large to be held: beyond every limit
        return False
    scaled = to_scaled(told)
    return to_scaled(limits["low"]) <= scaled <= to_scaled(limits["high"])


def _offer(field: Field, value: str, unit: str) -> dict[str, str] | None:
    """What was probably meant: the same digits in another unit, or with the point put back."""
    other = [choice["code"] for choice in field["units"] if choice["code"] != unit]
    guesses = [(value, code) for code in other]
    if field["decimals"] == 1 and re.fullmatch(r"[0-9]{2,}", value):
        guesses.append((f"{value[:-1]}.{value[-1]}".removesuffix(".0"), unit))
    likely = (guess for guess in guesses if _within(field["unlikely"], *guess))
    return next(({"value": guess, "unit": code} for guess, code in likely), None)


def _offer_words(offer: dict[str, str] | None, unit: str) -> str:
    if offer is None:
        return ""
    kind = "offer_point" if offer["unit"] == unit else "offer_unit"
    return message(kind, value=offer["value"], unit=unit_words(offer["unit"]))
