"""Conditions over many values at once: a batch of entries names hundreds of ids in each of its questions."""

import json
from collections.abc import Iterable
from typing import Any

from sqlalchemy import Boolean, ColumnElement, Dialect, Text, TypeDecorator, bindparam
from sqlalchemy.dialects.postgresql import ARRAY
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.functions import FunctionElement
from sqlalchemy.types import TypeEngine


def among(column: ColumnElement[Any], name: str) -> ColumnElement[bool]:
    """That a column has one of the values that come as a parameter: one parameter instead of hundreds."""
    return _Among(column, bindparam(name, type_=_Many(column.type)))


class _Many(TypeDecorator[Iterable[Any]]):
    """Several values of one type as one: an array where the database has such, else JSON."""

    impl = Text
    cache_ok = True

    def __init__(self, of: TypeEngine[Any]) -> None:
        super().__init__()
        self.of = of

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        return dialect.type_descriptor(ARRAY(self.of) if dialect.name == "postgresql" else Text())

    def process_bind_param(self, value: Iterable[Any] | None, dialect: Dialect) -> Any:
        values = list(value or ())
        if dialect.name == "postgresql":
            return values
        stored = self.of.dialect_impl(dialect).bind_processor(dialect)
        return json.dumps([stored(each) for each in values] if stored else values)


class _Among(FunctionElement[bool]):
    name = "among"
    type = Boolean()
    inherit_cache = True

    def self_group(self, against: Any = None) -> "_Among":
        # Where there are no booleans a function would be compared with 1, and no index used for it.
        return self


@compiles(_Among, "sqlite")
def _among_json(element: _Among, compiler: Any, **how: Any) -> str:
    column, values = (compiler.process(each, **how) for each in element.clauses)
    return f"{column} IN (SELECT value FROM json_each({values}))"


@compiles(_Among, "postgresql")
def _among_array(element: _Among, compiler: Any, **how: Any) -> str:
    column, values = (compiler.process(each, **how) for each in element.clauses)
    return f"{column} = ANY ({values})"
