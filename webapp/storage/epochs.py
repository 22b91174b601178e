"""Lives of the log. After a restore from a backup the log gets a new epoch, so that devices offer again."""

import uuid

from sqlalchemy import select

from webapp.storage.database import Database
from webapp.storage.models import Organisation


def renew_epoch(database: Database, organisation: str | None = None) -> None:
    """Give an organisation's log, or every log, a new epoch. Do it after every restore, before serving."""
    query = select(Organisation)
    if organisation is not None:
        query = query.where(Organisation.id == organisation)
    with database.writing() as session:
        for row in session.scalars(query):
            row.epoch = str(uuid.uuid4())
