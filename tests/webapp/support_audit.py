"""What tests of the audit look at, and how they damage it as somebody with the database's password could."""

from typing import Any

from sqlalchemy import select, text

from tests.webapp.support import House
from webapp.storage.audit.chain import columns_of
from webapp.storage.audit.check import Checked, check_chain
from webapp.storage.models import AuditRow, Organisation


def rows(house: House, **wanted: Any) -> list[AuditRow]:
    """The rows of the first organisation, in order, of those with some values."""
    query = select(AuditRow).where(AuditRow.organisation_id == house.organisation).order_by(AuditRow.seq)
    with house.database.reading() as session:
        return list(session.scalars(query.filter_by(**wanted)))


def actions(house: House, **wanted: Any) -> list[str]:
    return [row.action for row in rows(house, **wanted)]


def check(house: House, anchors=()) -> Checked:
    with house.database.reading() as session:
        organisation = session.get_one(Organisation, house.organisation)
        return check_chain(session, organisation, house.database.audit_keys, anchors)


def tamper(house: House, statement: str, **values: Any) -> None:
    """Change the rows behind the back of what refuses it."""
    with house.database.writing() as session:
        if session.connection().dialect.name == "postgresql":
            session.execute(text("SET LOCAL session_replication_role = replica"))
        else:
            for verb in ("update", "delete"):
                session.execute(text(f"DROP TRIGGER IF EXISTS audit_no_{verb}"))
        session.execute(text(statement), values)


def sealed_anew(house: House, row: AuditRow, **changes: Any) -> str:
    """The hash that whoever has the key would give a changed row."""
    found = house.database.audit_keys.seal(columns_of(row) | changes)
    assert found is not None
    return found
