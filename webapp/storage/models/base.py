"""What all tables share: constraint names, the organisation in every key, moments in UTC."""

from datetime import UTC, datetime
from functools import lru_cache
from typing import Any

from sqlalchemy import DateTime, Dialect, MetaData, TypeDecorator, Uuid
from sqlalchemy.orm import DeclarativeBase

NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}


class Base(DeclarativeBase):
    """The root of all models."""

    metadata = MetaData(naming_convention=NAMING)


class Instant(TypeDecorator[datetime]):
    """A moment: always UTC, also on SQLite, which forgets time zones."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        return None if value is None else value.astimezone(UTC)

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class TextUuid(Uuid[str]):
    """A UUID read back as text; where the database keeps 32 digits, by putting the hyphens in.

    SQLAlchemy makes a UUID of the digits and a text of the UUID: most of the work of reading an entry.
    """

    def result_processor(self, dialect: Dialect, coltype: object) -> Any:
        """What makes the text of a column's value, or None when it is the text already."""
        return super().result_processor(dialect, coltype) if dialect.supports_native_uuid else _hyphened


# The clients, authors and devices of a page are the same few.
@lru_cache(maxsize=4096)
def _hyphened(digits: str | None) -> str | None:
    if digits is None:
        return None
    return f"{digits[:8]}-{digits[8:12]}-{digits[12:16]}-{digits[16:20]}-{digits[20:]}"


def uuid_type() -> Uuid[str]:
    """UUIDs, handled as the lower-case text that also travels."""
    return TextUuid(as_uuid=False)
