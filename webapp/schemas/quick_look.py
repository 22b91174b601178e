"""A quick look at what comes in: True only for a value that its marshmallow schema surely takes.

Nearly everything that devices send is in order, and to be told so by marshmallow costs many times as much.
A False says nothing: the schema then looks at the whole and finds the words for what is wrong. What is looked
at follows from the schema's own fields and validators; a kind of field or validator not known here is asked
itself. tests/webapp/test_quick_look.py holds both answers against each other.

Each look is written as Python, once for a schema, and compiled, as the standard library does for dataclasses:
calling a function for each field and validator takes three times as long. `text_of` shows what is written.
In the text stand quoted names of fields and whole numbers; everything else it calls by a name given here.
"""

from collections.abc import Callable
from functools import cache
from typing import Any

from marshmallow import ValidationError, fields, missing, validate

from sync.shapes import UUID
from webapp.schemas.fields import Id, Kept, Strict

Look = Callable[[Any], bool]
Names = dict[str, Any]


@cache
def quick_look(schema: type[Strict]) -> Look:
    """The quick look that belongs to a schema."""
    return _compiled(*text_of(schema))


def text_of(schema: type[Strict]) -> tuple[str, Names]:
    """The look of a schema as Python, and what it calls by name."""
    made = schema()
    # Several at once or under another name: no schema here does so, and none may begin to unnoticed.
    if made.many or made.partial or any(map(_moved, made.fields.values())):
        raise TypeError(f"{schema.__name__} reads its fields in a way the quick look does not know")
    # A KeyError says that something required is missing. The rules come last: they may count on it.
    names: Names = {"Refused": (KeyError, ValidationError)}
    lines = [line for name, field in made.fields.items() for line in _field(name, field, names)]
    rules = [f"{_named(rule, names)}(value)" for rule in schema.whole]
    required = sum(field.required for field in made.fields.values())
    return _LOOK.format(required=required, fields=_BREAK.join(lines), rules=_BREAK.join(rules)), names


_BREAK = "\n        "
_LOOK = """
def look(value):
    if type(value) is not dict: return False
    try:
        known = {required}
        {fields}
        if len(value) != known: return False
        {rules}
    except Refused: return False
    return True
"""




def _field(name: str, field: fields.Field, names: Names) -> list[str]:
    refused = _refused(field, names)
    if field.allow_none:
        refused = f"x is not None and ({refused})"
    lines = [f"x = value[{name!r}]", f"if {refused}: return False"]
    if field.required:
        return lines
    return [f"if {name!r} in value:", *(f"    {line}" for line in ["known += 1", *lines])]


def _compiled(text: str, names: Names) -> Look:
    exec(text, names)
    look: Look = names["look"]
    return look


def _named(thing: Any, names: Names) -> str:
    """The name by which a text calls something."""
    name = f"given_{len(names)}"
    names[name] = thing
    return name


def _moved(field: fields.Field) -> bool:
    return bool(field.data_key or field.attribute) or field.load_default is not missing


def _refused(field: fields.Field, names: Names) -> str:
    """When a field does not take `x`, which is not null where it takes null."""
    kind = _KINDS.get(type(field), _kept)(field, names)
    if kind is None:
        return f"not {_named(_holding(field.deserialize), names)}(x)"
    return " or ".join([kind, *(_validator(each, names) for each in field.validators)])


def _kept(field: fields.Field, names: Names) -> str | None:
    return f"not {_named(field.takes, names)}(x)" if isinstance(field, Kept) else None


def _nested(field: fields.Nested, names: Names) -> str:
    if field.many or field.only or field.exclude or field.unknown:
        raise TypeError(f"{field.name} nests a schema in a way the quick look does not know")
    return f"not {_named(quick_look(type(field.schema)), names)}(x)"


def _list(field: fields.List, names: Names) -> str:
    inner: Names = {}
    null = "x is None or " if field.inner.allow_none else ""
    each = _compiled(f"def look(x): return {null}not ({_refused(field.inner, inner)})", inner)
    return f"type(x) is not list or not all(map({_named(each, names)}, x))"


def _dict(field: fields.Dict, _names: Names) -> str | None:
    if field.value_field or type(field.key_field) is not fields.String or field.key_field.validators:
        return None
    return "type(x) is not dict or not {*map(type, x)} <= {str}"


def _integer(field: fields.Integer, _names: Names) -> str | None:
    return "type(x) is not int" if field.strict else None


def _validator(validator: Callable[[Any], Any], names: Names) -> str:
    made = _VALIDATORS.get(type(validator), lambda _validator, _names: None)(validator, names)
    return made or f"not {_named(_holding(validator), names)}(x)"


def _length(validator: validate.Length, _names: Names) -> str | None:
    least, most = validator.min or 0, validator.max
    if validator.equal is not None:
        least = most = validator.equal
    return f"len(x) < {least:d}" if most is None else f"not {least:d} <= len(x) <= {most:d}"


def _range(validator: validate.Range, _names: Names) -> str | None:
    least, most = validator.min, validator.max
    whole = type(least) is int and type(most) is int
    if not (whole and validator.min_inclusive and validator.max_inclusive):
        return None
    return f"not {least:d} <= x <= {most:d}"


def _holding(rule: Callable[[Any], Any]) -> Look:
    def holds(value: Any) -> bool:
        try:
            rule(value)
        except ValidationError:
            return False
        return True

    return holds


_KINDS: dict[type[fields.Field], Callable[[Any, Names], str | None]] = {
    Id: lambda _field, names: f"type(x) is not str or {_named(UUID.fullmatch, names)}(x) is None",
    fields.String: lambda _field, _names: "type(x) is not str",
    fields.Nested: _nested,
    fields.List: _list,
    fields.Dict: _dict,
    fields.Integer: _integer,
}
_VALIDATORS: dict[type, Callable[[Any, Names], str | None]] = {
    validate.Length: _length,
    validate.Range: _range,
    validate.OneOf: lambda it, names: f"x not in {_named(frozenset(it.choices), names)}",
    validate.Regexp: lambda it, names: f"{_named(it.regex.match, names)}(x) is None",
}
