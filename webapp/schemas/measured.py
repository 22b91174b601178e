"""A measured number as a marshmallow field: form, decimals, impossible limits from the clinical data."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from marshmallow import fields

from webapp.clinical import parse_number
from webapp.clinical.wording import message, unit_label
from webapp.schemas.said import said


class Measured(fields.String):
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

    def _deserialize(self, value: Any, *args: Any, **kwargs: Any) -> str:
        if not isinstance(value, str):
            raise self.make_error("type")
        parsed = parse_number(value, self.item["decimals"])
        if "error" in parsed:
            raise said(parsed["error"], parsed["message"])
        if parsed["value"] != value:
            raise said("not_canonical", message("not_canonical", value=parsed["value"]))
        self._check_limits(value)
        return value

    def _check_limits(self, value: str) -> None:
        limits, units = self.item.get("impossible"), self.item["units"]
        if limits is None or len(units) > 1:
            return
        if not Decimal(limits["low"]) <= Decimal(value) <= Decimal(limits["high"]):
            unit = unit_label(self.item["unit"])
            raise said(
                "impossible",
                message(
                    "impossible", label=self.item["label"], value=value, unit=unit, limit_unit=unit, **limits
                ),
            )
