"""Conversion between a unit and the canonical one of its kind."""

from .decimals import divide_half_up, from_scaled, round_scaled, to_scaled
from .load import data


def convert(value: str, source: str, target: str) -> str:
    """The decimal text in the other unit, rounded half up to two decimals; ValueError when they don't mix."""
    units = data()["units"]
    if source not in units or target not in units:
        raise ValueError("unknown unit")
    if units[source]["canonical"] != units[target]["canonical"]:
        raise ValueError("these units measure different things")
    if source == target:
        return value
    scaled = _from_canonical(_to_canonical(to_scaled(value), source), target)
    rule = units[source if "decimals" in units[source] else target]
    return from_scaled(round_scaled(scaled, rule["decimals"]))


def canonical(value: str, unit: str) -> str:
    """The decimal text in the canonical unit of its kind."""
    return convert(value, unit, data()["units"][unit]["canonical"])


def _to_canonical(scaled: int, unit: str) -> int:
    rule = data()["units"][unit]
    if "times" not in rule:
        return scaled
    return divide_half_up((scaled - to_scaled(rule["subtract"])) * rule["times"], rule["over"])


def _from_canonical(scaled: int, unit: str) -> int:
    rule = data()["units"][unit]
    if "times" not in rule:
        return scaled
    return divide_half_up(scaled * rule["over"], rule["times"]) + to_scaled(rule["subtract"])
