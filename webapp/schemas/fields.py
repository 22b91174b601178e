"""marshmallow fields with our sentences: UUIDs, moments, dates, texts, decimals written as text."""

import re
from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from marshmallow import Schema, ValidationError, fields, validate

from webapp.schemas.said import MESSAGES, UNKNOWN_CHOICE, UNKNOWN_FIELD, Said, said

LONGEST_TEXT = 20_000
DECIMAL = re.compile(r"-?(0|[1-9]\d{0,8})(\.\d{1,6})?", re.ASCII)
_ISO_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_UUID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")
_TIME = r"([01]\d|2[0-3]):[0-5]\d"


class Strict(Schema):
    """A schema that refuses what it does not know and says so in our words."""

    error_messages = {"unknown": UNKNOWN_FIELD, "type": MESSAGES["type"]}


class Id(fields.String):
    """A UUID in lower case."""

    default_error_messages = MESSAGES

    def _deserialize(self, value: Any, *args: Any, **kwargs: Any) -> str:
        if isinstance(value, str) and _UUID.fullmatch(value):
            return value
        raise said("not_an_id", "This is not a proper number of a record (a UUID in lower case).")


class Moment(fields.String):
    """A moment in UTC with milliseconds, kept as its text."""

    default_error_messages = MESSAGES

    def _deserialize(self, value: Any, *args: Any, **kwargs: Any) -> str:
        text = super()._deserialize(value, *args, **kwargs)
        try:
            moment = datetime.fromisoformat(text)
        except ValueError as error:
            raise _not_a_moment() from error
        # Exactly one way to write each moment: the text is part of what is hashed.
        if text != f"{moment.replace(tzinfo=None).isoformat(timespec='milliseconds')}Z":
            raise _not_a_moment()
        return text


def _not_a_moment() -> ValidationError:
    return said("not_a_time", "This is not a moment in UTC such as 2026-11-25T09:40:12.123Z.")


class Day(fields.String):
    """A calendar day, kept as its ISO text."""

    default_error_messages = MESSAGES

    def _deserialize(self, value: Any, *args: Any, **kwargs: Any) -> str:
        text = super()._deserialize(value, *args, **kwargs)
        try:
            if not _ISO_DATE.fullmatch(text):
                raise ValueError(text)
            date.fromisoformat(text)
        except ValueError as error:
            raise said(
                "not_a_date", "This is not a day of the calendar. Write it as year-month-day."
            ) from error
        return text


class Decimal(fields.String):
    """A number as canonical decimal text: a point, no needless zeros, at most some decimals."""

    default_error_messages = MESSAGES

    def __init__(self, *, decimals: int = 6, label: str = "This", **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.decimals, self.label = decimals, label

    def _deserialize(self, value: Any, *args: Any, **kwargs: Any) -> str:
        if not isinstance(value, str):
            raise said("not_a_number", f"{self.label} must be written as digits. Enter the number again.")
        if re.fullmatch(r"-?\d+,\d+", value):
            raise said(
                "decimal_comma",
                f"{self.label} has a decimal comma. It is kept with a point: {value.replace(',', '.')}.",
            )
        if not DECIMAL.fullmatch(value) or value in ("-0",):
            raise said("not_a_number", f"{self.label} is not a number as it is kept. Enter the number again.")
        self._check_decimals(value)
        return value

    def _check_decimals(self, value: str) -> None:
        decimals = value.partition(".")[2]
        if len(decimals) > self.decimals:
            raise said(
                "too_many_decimals",
                f"{self.label} is measured with at most {self.decimals} decimals. Enter it again.",
            )
        if decimals.endswith("0"):
            raise said(
                "not_a_number", f"{self.label} ends in a zero it does not need. Enter the number again."
            )


class Flag(fields.Boolean):
    """True or false, and nothing that merely resembles them."""

    default_error_messages = MESSAGES

    def _deserialize(self, value: Any, *args: Any, **kwargs: Any) -> bool:
        if not isinstance(value, bool):
            raise self.make_error("invalid")
        return value


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
