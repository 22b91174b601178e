"""Validation messages that carry a code beside their sentence, all the way through marshmallow."""

from typing import Any

from marshmallow import ValidationError


class Said(str):
    """A sentence for a person, with the code a program looks at."""

    code: str

    def __new__(cls, code: str, sentence: str) -> "Said":
        made = super().__new__(cls, sentence)
        made.code = code
        return made

    def format(self, *args: Any, **kwargs: Any) -> "Said":
        """Fill in a sentence without losing its code: marshmallow formats messages on the way."""
        return Said(self.code, super().format(*args, **kwargs))


REQUIRED = Said("required", "This is missing. Fill it in.")
UNKNOWN_FIELD = Said("unknown_field", "This field is not known here. Update the app and record it again.")
WRONG_TYPE = Said("wrong_type", "This is not the kind of value expected here. Record it again.")
UNKNOWN_CHOICE = Said("unknown_choice", "This is not one of the answers offered. Choose one of them.")

MESSAGES = {"required": REQUIRED, "null": REQUIRED, "invalid": WRONG_TYPE, "type": WRONG_TYPE}


def said(code: str, sentence: str, field: str | None = None) -> ValidationError:
    """A validation error with one coded sentence."""
    made = Said(code, sentence)
    return ValidationError([made], field) if field else ValidationError([made])


def first_error(messages: Any, path: str = "") -> tuple[str, str, Said]:
    """Of marshmallow's nested messages the first: its field path, code and sentence."""
    if isinstance(messages, dict):
        key, inner = next(iter(messages.items()))
        step = "" if key in ("_schema", "key", "value") else str(key)
        return first_error(inner, f"{path}.{step}".strip(".") if step else path)
    if isinstance(messages, list):
        return first_error(messages[0], path)
    return (
        path,
        getattr(messages, "code", "wrong_type"),
        Said(getattr(messages, "code", "wrong_type"), messages),
    )
