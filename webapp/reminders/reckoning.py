"""From a client's record to the due dates that are stored, and on to the reminders of who has the client."""

import logging
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from sqlalchemy import delete, select
from sqlalchemy.exc import SQLAlchemyError
from sqlalchemy.orm import Session

from webapp.reminders.outbox import Owner, lock_habits, renew
from webapp.storage.due_changes import note_due_changes
from webapp.storage.models import Caseload, Due, DueChange
from webapp.storage.rights import during

log = logging.getLogger("lintel")
Client = tuple[str, str]
TRIED_AGAIN = timedelta(hours=1)


@dataclass(frozen=True)
class DueItem:
    """A reassessment by a rule: sensible from one day, due by another."""

    rule: str
    from_on: date
    due_on: date


@dataclass(frozen=True)
class Reckoned:
    """What is or comes due for a client (None: as before), and when to reckon without a further entry."""

    items: tuple[DueItem, ...] | None = ()
    again_at: datetime | None = None


# (session, organisation, client, now) -> what is or comes due.
Reckon = Callable[[Session, str, str, datetime], Reckoned]


def reckon_changed(session: Session, reckon: Reckon, now: datetime, most: int) -> int:
    """Reckon up to so many noted clients anew; how many there were. All in the transaction of the session."""
    noted = session.scalars(
        select(DueChange)
        .where(DueChange.reckon_at <= now)
        .order_by(DueChange.reckon_at)
        .limit(most)
        .with_for_update(skip_locked=True)
    ).all()
    clients = [(row.organisation_id, row.client_id) for row in noted]
    for row in noted:
        session.delete(row)
    session.flush()
    for client in clients:
        found = _reckoned(reckon, session, client, now)
        if found.items is not None:
            store_due(session, client, found.items, now)
        if found.again_at is not None:
            note_due_changes(session, client[0], [client[1]], found.again_at)
    for habits in lock_habits(session, owners_of(session, clients, now)):
        renew(session, habits, now)
    return len(clients)


def _reckoned(reckon: Reckon, session: Session, client: Client, now: datetime) -> Reckoned:
    """What is due for a client; a record that cannot be reckoned keeps its dates and stops nobody else's."""
    try:
        return reckon(session, *client, now)
    except SQLAlchemyError:
        raise
    except Exception as error:
        log.error("not_reckoned", extra={"error": type(error).__name__})
        return Reckoned(None, now + TRIED_AGAIN)


def store_due(session: Session, client: Client, items: Iterable[DueItem], now: datetime) -> None:
    """Replace a client's due dates; one that stays the same keeps the moment since which it is known."""
    organisation, who = client
    rows = select(Due).where(Due.organisation_id == organisation, Due.client_id == who)
    before = {(row.rule, row.from_on, row.due_on): row.known_at for row in session.scalars(rows)}
    session.execute(delete(Due).where(Due.organisation_id == organisation, Due.client_id == who))
    session.expire_all()
    for item in items:
        known_at = before.get((item.rule, item.from_on, item.due_on), now)
        session.add(
            Due(
                organisation_id=organisation,
                client_id=who,
                rule=item.rule,
                from_on=item.from_on,
                due_on=item.due_on,
                known_at=known_at,
            )
        )
    session.flush()


def owners_of(session: Session, clients: Iterable[Client], now: datetime) -> list[Owner]:
    """Everybody who has one of some clients on the caseload to stay."""
    wanted = defaultdict(list)
    for organisation, client in clients:
        wanted[organisation].append(client)
    found: list[Owner] = []
    for organisation, ids in wanted.items():
        users = session.scalars(
            select(Caseload.user_id)
            .distinct()
            .where(
                Caseload.organisation_id == organisation,
                Caseload.client_id.in_(ids),
                Caseload.emergency.is_(False),
                during(Caseload, now),
            )
        )
        found += [(organisation, user) for user in users]
    return found
