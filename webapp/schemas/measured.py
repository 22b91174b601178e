"""A measured number as a marshmallow field: form and decimals from the clinical data."""

from collections.abc import Mapping
from typing import Any

from marshmallow import ValidationError, fields

from webapp.clinical import is_canonical, parse_number
from webapp.clinical.wording import message
from webapp.schemas.fields import Kept
from webapp.schemas.said import said


class Measured(Kept, fields.String):
    """A number as canonical text. Its limits, told in the API's description, are held by `check_reading`."""

    def __init__(self, item: Mapping[str, Any], **options: Any) -> None:
        super().__init__(**options)
        self.item = item
        self.metadata |= {
            f"x-{name}": item[name]
            for name in ("unit", "impossible", "unlikely", "loinc", "source")
            if name in item
        }

    def takes(self, value: Any) -> bool:
        """Whether it is a number in canonical text."""
        return isinstance(value, str) and is_canonical(value, self.item["decimals"])

    def refusal(self, value: Any) -> ValidationError:
        """The words for what is wrong with it."""
        if not isinstance(value, str):
            return self.make_error("type")
        parsed = parse_number(value, self.item["decimals"])
        if "error" in parsed:
            return said(parsed["error"], parsed["message"])
        return said("not_canonical", message("not_canonical", value=parsed["value"]))
