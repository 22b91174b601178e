"""Everything that is kept, and nothing of HTTP: people, caseloads, the log, devices, sessions.

Imports SQLAlchemy, Alembic and `sync`; neither Flask nor the schemas.
"""

from webapp.storage.append import append_entries
from webapp.storage.caseload import assign_caseload, create_client, end_caseload
from webapp.storage.database import Database
from webapp.storage.people import Person, create_organisation, create_user, set_active
from webapp.storage.rights import can, visible_clients
from webapp.storage.upgrade import upgrade

__all__ = [
    "Database",
    "Person",
    "append_entries",
    "assign_caseload",
    "can",
    "create_client",
    "create_organisation",
    "create_user",
    "end_caseload",
    "set_active",
    "upgrade",
    "visible_clients",
]
