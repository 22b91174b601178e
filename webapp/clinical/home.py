"""The home in numbers: the ramp a rise needs, what a measured place is held against, seats and lower leg."""

from typing import Any

from .decimals import SCALE, from_scaled, is_decimal, nearest_root, round_scaled, to_scaled
from .load import data
from .units import convert
from .wording import fill, unit_label

Body = dict[str, Any]


def ramp(rise: str, unit: str) -> Body | None:
    """The ramp for a rise: lengths in the same unit; None for no rise or an unknown unit.

    {"run", "runs", "landings", "total", "footprint", "surface", "rails": bool, "width", "unit"}:
    `total` has the landings between runs, `footprint` one more at each end, `surface` is along the slope.
    """
    rules = data()["home"]["ramp"]
    if unit not in rules["figures"] or not is_decimal(rise) or to_scaled(rise) <= 0:
        return None
    figures = {name: to_scaled(value) for name, value in rules["figures"][unit].items()}
    height, per = to_scaled(rise), rules["run_per_rise"]
    runs = -(-height // figures["rise_of_a_run"])
    total = height * per + (runs - 1) * figures["landing"]
    # Told to a tenth: the root is taken of the slope in tenths.
    surface = nearest_root((per**2 + 1) * (10 * height) ** 2, SCALE**2) * (SCALE // 10)
    lengths = {
        "run": height * per,
        "total": total,
        "footprint": total + 2 * figures["landing"],
        "surface": surface,
    }
    return {
        **{name: from_scaled(value) for name, value in lengths.items()},
        "runs": runs,
        "landings": runs - 1,
        "rails": height > figures["rails_above"],
        "width": from_scaled(figures["width"]),
        "landing": from_scaled(figures["landing"]),
        "unit": unit,
    }


def place_findings(fields: Body) -> list[Body]:
    """What a place's measures are outside of: [{"id", "field", "word", "because", "source"}]."""
    checks = [each for each in data()["home"]["checks"] if fields.get("type") in each["for"]]
    return [found for check in checks if (found := _checked(check, fields.get(check["field"])))]


def _checked(check: Body, length: Any) -> Body | None:
    if not length:
        return None
    value, unit = length["value"], length["unit"]
    end = "below" if "below" in check else "above"
    limit = check[end][unit]
    outside = to_scaled(value) < to_scaled(limit) if end == "below" else to_scaled(value) > to_scaled(limit)
    if not outside:
        return None
    words = {"value": value, "unit": unit_label(unit), "limit": limit}
    told = {"word": check["word"], "because": fill(check["because"], words)}
    return {"id": check["id"], "field": check["field"], **told, "source": check["source"]}


def seat_finding(name: str, seat: Body, leg: Body) -> Body:
    """A seat's height against the lower leg: {"rule", "difference", "unit", "word", "because", "source"}.

    Both are lengths {"value", "unit"}; the difference is in the seat's unit.
    """
    texts, unit = data()["home"]["seat"], seat["unit"]
    length = convert(leg["value"], leg["unit"], unit)
    apart = round_scaled(to_scaled(seat["value"]) - to_scaled(length), 1)
    rule = "lower" if apart < 0 else "higher" if apart > 0 else "same"
    size = from_scaled(abs(apart))
    told_leg = from_scaled(round_scaled(to_scaled(length), 1))
    words = {"name": name, "difference": size, "unit": unit_label(unit), "leg": told_leg}
    told = {"word": texts[rule]["word"], "because": fill(texts[rule]["because"], words)}
    return {"rule": rule, "difference": size, "unit": unit, **told, "source": texts["source"]}
