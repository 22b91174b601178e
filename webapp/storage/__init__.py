"""Everything that is kept, and nothing of HTTP: people, caseloads, the log, devices, sessions.

Imports SQLAlchemy, Alembic and `sync`; neither Flask nor the schemas.
"""

from webapp.storage.append import append_entries
from webapp.storage.caseload import assign_caseload, create_client, end_caseload, may_see, visible_clients
from webapp.storage.database import Database
from webapp.storage.people import Person, create_organisation, create_user, set_active
from webapp.storage.upgrade import upgrade

__all__ = [
    "Database",
    "Person",
    "append_entries",
    "assign_caseload",
    "create_client",
    "create_organisation",
    "create_user",
    "end_caseload",
    "may_see",
    "set_active",
    "upgrade",
    "visible_clients",
]
