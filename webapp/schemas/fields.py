"""marshmallow fields with our sentences: UUIDs, moments, dates, texts, decimals written as text."""

import re
from collections.abc import Callable, Sequence
from datetime import date
from typing import Any

from marshmallow import Schema, ValidationError, fields, validate, validates_schema

from sync.instants import read_instant
from sync.shapes import is_uuid
from webapp.schemas.said import MESSAGES, UNKNOWN_CHOICE, UNKNOWN_FIELD, Said, said

LONGEST_TEXT = 20_000
DECIMAL = re.compile(r"-?(0|[1-9]\d{0,8})(\.\d{1,6})?", re.ASCII)
_ISO_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_TIME = r"([01]\d|2[0-3]):[0-5]\d"


class Strict(Schema):
    """A schema that refuses what it does not know and says so in our words."""

    error_messages = {"unknown": UNKNOWN_FIELD, "type": MESSAGES["type"]}
    # What the fields say together: each is given the whole, its fields in order, and raises `said(...)`.
    whole: tuple[Callable[[dict[str, Any]], None], ...] = ()

    @validates_schema
    def holds_together(self, data: dict[str, Any], **_: Any) -> None:
        """What the fields say together makes sense."""
        for rule in type(self).whole:
            rule(data)


class Kept(fields.Field):
    """A value that is kept as it came: `takes` alone decides, and `refusal` finds the words."""

    default_error_messages = MESSAGES

    def takes(self, value: Any) -> bool:
        """Whether the value is as it must be."""
        raise NotImplementedError

    def refusal(self, value: Any) -> ValidationError:
        """Why it is not."""
        raise NotImplementedError

    def _deserialize(self, value: Any, *args: Any, **kwargs: Any) -> Any:
        if self.takes(value):
            return value
        raise self.refusal(value)


class Id(Kept, fields.String):
    """A UUID in lower case."""

    def takes(self, value: Any) -> bool:
        """Whether it is a UUID in lower case."""
        return is_uuid(value)

    def refusal(self, value: Any) -> ValidationError:
        """The words for anything else."""
        return said("not_an_id", "This is not a proper number of a record (a UUID in lower case).")


class Moment(Kept, fields.String):
    """A moment in UTC with milliseconds, kept as its text."""

    def takes(self, value: Any) -> bool:
        """Whether it is a moment, written in the one way: the text is part of what is hashed."""
        try:
            return read_instant(value) is not None
        except (ValueError, TypeError):
            return False

    def refusal(self, value: Any) -> ValidationError:
        """The words for no text, and for no moment."""
        if not isinstance(value, str):
            return self.make_error("invalid")
        return said("not_a_time", "This is not a moment in UTC such as 2026-11-25T09:40:12.123Z.")


class Day(Kept, fields.String):
    """A calendar day, kept as its ISO text."""

    def takes(self, value: Any) -> bool:
        """Whether it is a day of the calendar."""
        try:
            return _ISO_DATE.fullmatch(value) is not None and date.fromisoformat(value) is not None
        except (ValueError, TypeError):
            return False

    def refusal(self, value: Any) -> ValidationError:
        """The words for no text, and for no day."""
        if not isinstance(value, str):
            return self.make_error("invalid")
        return said("not_a_date", "This is not a day of the calendar. Write it as year-month-day.")


class Decimal(Kept, fields.String):
    """A number as canonical decimal text: a point, no needless zeros, at most some decimals."""

    def __init__(self, *, decimals: int = 6, label: str = "This", **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.decimals, self.label = decimals, label

    def takes(self, value: Any) -> bool:
        """Whether it is a decimal in canonical text with no more decimals than are measured."""
        if not isinstance(value, str) or not DECIMAL.fullmatch(value) or value == "-0":
            return False
        decimals = value.partition(".")[2]
        return len(decimals) <= self.decimals and not decimals.endswith("0")

    def refusal(self, value: Any) -> ValidationError:
        """The words for what is wrong with it."""
        if not isinstance(value, str):
            return said("not_a_number", f"{self.label} must be written as digits. Enter the number again.")
        if re.fullmatch(r"-?\d+,\d+", value):
            kept = f"It is kept with a point: {value.replace(',', '.')}."
            return said("decimal_comma", f"{self.label} has a decimal comma. {kept}")
        if not DECIMAL.fullmatch(value) or value == "-0":
            return said(
                "not_a_number", f"{self.label} is not a number as it is kept. Enter the number again."
            )
        return self._too_long(value.partition(".")[2])

    def _too_long(self, decimals: str) -> ValidationError:
        if len(decimals) > self.decimals:
            return said(
                "too_many_decimals",
                f"{self.label} is measured with at most {self.decimals} decimals. Enter it again.",
            )
        return said("not_a_number", f"{self.label} ends in a zero it does not need. Enter the number again.")


class Flag(Kept, fields.Boolean):
    """True or false, and nothing that merely resembles them."""

    def takes(self, value: Any) -> bool:
        """Whether it is true or false."""
        return isinstance(value, bool)

    def refusal(self, value: Any) -> ValidationError:
        """The field's own words."""
        return self.make_error("invalid")


def text(longest: int = LONGEST_TEXT, shortest: int = 0, **kwargs: Any) -> fields.String:
    """A text field of limited length."""
    lengths: list[validate.Validator] = [
        validate.Length(
            max=longest, error=Said("too_long", "This is longer than {max} characters. Shorten it.")
        )
    ]
    if shortest:
        lengths.append(validate.Length(min=shortest, error=Said("required", "This is empty. Fill it in.")))
        lengths.append(
            validate.Regexp(r".*\S", re.DOTALL, error=Said("required", "This is empty. Fill it in."))
        )
    kwargs.setdefault("error_messages", MESSAGES)
    return fields.String(validate=lengths, **kwargs)


def time_of_day(**kwargs: Any) -> fields.String:
    """A time of day such as 09:30."""
    return fields.String(
        validate=validate.Regexp(
            _TIME + r"\Z", error=Said("not_a_time", "This is not a time of day such as 09:30.")
        ),
        error_messages=MESSAGES,
        **kwargs,
    )


def whole(low: int, high: int, **kwargs: Any) -> fields.Integer:
    """A whole number within limits."""
    return fields.Integer(
        strict=True,
        validate=validate.Range(
            min=low, max=high, error=Said("impossible", "This must lie between {min} and {max}. Correct it.")
        ),
        error_messages=MESSAGES,
        **kwargs,
    )


def choice(options: Sequence[str], error: Said = UNKNOWN_CHOICE, **kwargs: Any) -> fields.String:
    """One of some ids."""
    kwargs.setdefault("error_messages", MESSAGES)
    return fields.String(validate=validate.OneOf(options, error=error), **kwargs)


def many(inner: fields.Field, most: int, least: int = 0, **kwargs: Any) -> fields.List:
    """A list of limited length."""
    kwargs.setdefault("error_messages", MESSAGES)
    length = validate.Length(
        min=least, max=most, error=Said("wrong_count", "There must be {min} to {max} of these.")
    )
    return fields.List(inner, validate=length, **kwargs)
