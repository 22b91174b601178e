"""The one row of an organisation that its writers wait for: it numbers the log and the audit."""

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from webapp.storage.models import Organisation

_LOCKED = (
    select(Organisation)
    .where(Organisation.id == bindparam("organisation"))
    .with_for_update(key_share=True)
    .execution_options(populate_existing=True)
)


def lock_counter(session: Session, organisation: str) -> Organisation:
    """The organisation's row, locked until commit without blocking rows that merely refer to it.

    Whoever also changes rows that others may be changing locks this one first: one order for all.
    """
    return session.scalars(_LOCKED, {"organisation": organisation}).one()
