"""Taking a small JSON message: read strictly, checked by a schema, refused in words with the field named."""

from typing import Any

from marshmallow import Schema, ValidationError

from sync.canonical import canonical
from sync.errors import CanonicalError
from webapp.errors import Problem
from webapp.features.sync.body import read_message
from webapp.schemas.said import first_error


def taken(schema: type[Schema]) -> dict[str, Any]:
    """What the running request brings, as its schema loads it; 422 for anything else."""
    return checked(schema, read_message())


def checked(schema: type[Schema], message: Any) -> dict[str, Any]:
    """A message as its schema loads it, or a Problem that names the field."""
    try:
        # What has no canonical text (NUL, half a character) no database keeps either.
        canonical(message)
        found: dict[str, Any] = schema().load(message)
    except ValidationError as error:
        field, _code, sentence = first_error(error.messages)
        raise Problem("invalid", str(sentence), field or None) from error
    except CanonicalError as error:
        raise Problem("invalid", error.message, error.field) from error
    return found
