"""Conditions over many values at once: a batch of entries names hundreds of ids in each of its questions."""

import json
from collections.abc import Iterable
from typing import Any

from sqlalchemy import ColumnElement, any_, bindparam, func, select
from sqlalchemy.dialects.postgresql import ARRAY
from sqlalchemy.orm import InstrumentedAttribute, Session


def among(session: Session, column: InstrumentedAttribute[Any], values: Iterable[Any]) -> ColumnElement[bool]:
    """That a column has one of some values, which travel as one parameter instead of as hundreds."""
    wanted, dialect = list(values), session.get_bind().dialect
    if dialect.name == "postgresql":
        return column == any_(bindparam(None, wanted, type_=ARRAY(column.type)))
    stored = column.type.dialect_impl(dialect).bind_processor(dialect)
    texts = json.dumps([stored(value) for value in wanted] if stored else wanted)
    return column.in_(select(func.json_each(texts).table_valued("value").c.value))
