"""Lives of the log. After a restore from a backup the log gets a new epoch, so that devices offer again."""

import uuid

from sqlalchemy import select

from webapp.storage.database import Database
from webapp.storage.models import Organisation


def renew_epoch(database: Database, organisation: str | None = None) -> int:
    """Give an organisation's log, or every log, a new epoch; how many did.

    Do it after every restore, before serving: `python3 -m webapp.service restored`.
    """
    query = select(Organisation)
    if organisation is not None:
        query = query.where(Organisation.id == organisation)
    with database.writing() as session:
        logs = session.scalars(query).all()
        for row in logs:
            row.epoch = str(uuid.uuid4())
    return len(logs)
