"""A measured number as a marshmallow field: form, decimals, impossible limits from the clinical data."""

from collections.abc import Mapping
from typing import Any

from marshmallow import ValidationError, fields

from webapp.clinical import is_canonical, parse_number, to_scaled
from webapp.clinical.wording import message, unit_label
from webapp.schemas.fields import Kept
from webapp.schemas.said import said


class Measured(Kept, fields.String):
    """A number as canonical text. Limits are checked here when there is one unit to measure in.

    With several units the limits depend on the unit chosen elsewhere in the body: `check_reading` converts.
    """

    def __init__(self, item: Mapping[str, Any], **options: Any) -> None:
        super().__init__(**options)
        self.item = item
        self.metadata |= {
            f"x-{name}": item[name]
            for name in ("unit", "impossible", "unlikely", "loinc", "source")
            if name in item
        }

    def takes(self, value: Any) -> bool:
        """Whether it is a number in canonical text, within the limits."""
        decimals = self.item["decimals"]
        return isinstance(value, str) and is_canonical(value, decimals) and self._within(value)

    def refusal(self, value: Any) -> ValidationError:
        """The words for what is wrong with it."""
        if not isinstance(value, str):
            return self.make_error("type")
        parsed = parse_number(value, self.item["decimals"])
        if "error" in parsed:
            return said(parsed["error"], parsed["message"])
        if parsed["value"] != value:
            return said("not_canonical", message("not_canonical", value=parsed["value"]))
        return self._impossible(value, **self.item["impossible"])

    def _within(self, value: str) -> bool:
        limits, units = self.item.get("impossible"), self.item["units"]
        if limits is None or len(units) > 1:
            return True
        return to_scaled(limits["low"]) <= to_scaled(value) <= to_scaled(limits["high"])

    def _impossible(self, value: str, **limits: str) -> ValidationError:
        unit = unit_label(self.item["unit"])
        words = {"label": self.item["label"], "value": value, "unit": unit, "limit_unit": unit}
        return said("impossible", message("impossible", **words, **limits))
