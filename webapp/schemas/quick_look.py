"""A quick look at what comes in: True only for a value that its marshmallow schema surely takes.

Nearly everything that devices send is in order, and to be told so by marshmallow costs many times as much.
A False says nothing: the schema then looks at the whole and finds the words for what is wrong. What is looked
at follows from the schema's own fields and validators; a kind of field or validator not known here is asked
itself. tests/webapp/test_quick_look.py holds both answers against each other.
"""

import re
from collections.abc import Callable, Mapping
from functools import cache
from typing import Any

from marshmallow import ValidationError, fields, missing, validate

from webapp.schemas.fields import Kept, Strict

Look = Callable[[Any], bool]


@cache
def quick_look(schema: type[Strict]) -> Look:
    """The quick look that belongs to a schema."""
    made = schema()
    # Several at once or under another name: no schema here does so, and none may begin to unnoticed.
    if made.many or made.partial or any(map(_moved, made.fields.values())):
        raise TypeError(f"{schema.__name__} reads its fields in a way the quick look does not know")
    return _of_object({name: _of(each) for name, each in made.fields.items()}, _required(made), schema.whole)


def _moved(field: fields.Field) -> bool:
    return bool(field.data_key or field.attribute) or field.load_default is not missing


def _required(made: Strict) -> frozenset[str]:
    return frozenset(name for name, each in made.fields.items() if each.required)


def _of_object(looks: Mapping[str, Look], required: frozenset[str], rules: tuple[Any, ...]) -> Look:
    def look(value: Any) -> bool:
        if type(value) is not dict:
            return False
        for name, inner in value.items():
            known = looks.get(name)
            if known is None or not known(inner):
                return False
        if not required <= value.keys():
            return False
        # Only now: the rules may count on what is required.
        for rule in rules:
            if not _holds(rule, value):
                return False
        return True

    return look


def _of(field: fields.Field) -> Look:
    look = _KINDS.get(type(field), _asked)(field)
    for validator in field.validators:
        look = _both(look, _validator(validator))
    if not field.allow_none:
        return look
    return lambda value: value is None or look(value)


def _both(first: Look, second: Look) -> Look:
    return lambda value: first(value) and second(value)


def _asked(field: fields.Field) -> Look:
    """Whatever field it is, itself."""
    if isinstance(field, Kept):
        return field.takes
    return lambda value: value is not None and _holds(field.deserialize, value)


def _nested(field: fields.Nested) -> Look:
    if field.many or field.only or field.exclude or field.unknown:
        raise TypeError(f"{field.name} nests a schema in a way the quick look does not know")
    return quick_look(type(field.schema))


def _list(field: fields.List) -> Look:
    inner = _of(field.inner)
    return lambda value: type(value) is list and all(map(inner, value))


def _dict(field: fields.Dict) -> Look:
    if field.value_field or type(field.key_field) is not fields.String or field.key_field.validators:
        return _asked(field)
    return lambda value: type(value) is dict and all(type(key) is str for key in value)


def _integer(field: fields.Integer) -> Look:
    if not field.strict:
        return _asked(field)
    return lambda value: type(value) is int


def _validator(validator: Callable[[Any], Any]) -> Look:
    made = _VALIDATORS.get(type(validator))
    return made(validator) if made else lambda value: _holds(validator, value)


def _length(validator: validate.Length) -> Look:
    if validator.equal is not None:
        return lambda value: len(value) == validator.equal
    least, most = validator.min or 0, validator.max
    if most is None:
        return lambda value: least <= len(value)
    return lambda value: least <= len(value) <= most


def _one_of(validator: validate.OneOf) -> Look:
    return frozenset(validator.choices).__contains__


def _regexp(validator: validate.Regexp) -> Look:
    pattern: re.Pattern[Any] = validator.regex
    return lambda value: pattern.match(value) is not None


def _range(validator: validate.Range) -> Look:
    least, most = validator.min, validator.max
    if least is None or most is None or not (validator.min_inclusive and validator.max_inclusive):
        return lambda value: _holds(validator, value)
    return lambda value: least <= value <= most


def _holds(rule: Callable[[Any], Any], value: Any) -> bool:
    try:
        rule(value)
    except ValidationError:
        return False
    return True


_KINDS: dict[type[fields.Field], Callable[[Any], Look]] = {
    fields.String: lambda _field: lambda value: type(value) is str,
    fields.Nested: _nested,
    fields.List: _list,
    fields.Dict: _dict,
    fields.Integer: _integer,
}
_VALIDATORS: dict[type, Callable[[Any], Look]] = {
    validate.Length: _length,
    validate.OneOf: _one_of,
    validate.Regexp: _regexp,
    validate.Range: _range,
}
