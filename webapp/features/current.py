"""What every feature asks of the running request: the database and who is signed in."""

from flask import current_app, g

from webapp.config import now
from webapp.errors import Problem
from webapp.storage import Database, Person, can


def database() -> Database:
    """The application's database."""
    found: Database = current_app.extensions["lintel.database"]
    return found


def signed_in() -> Person:
    """The person who is asking, or the answer 401."""
    person: Person | None = g.get("person")
    if person is None:
        raise Problem("sign_in_needed")
    return person


def allowed(action: str, otherwise: str | None = None) -> Person:
    """The person who is asking, if they may do this at all; else 401, or 403 with a sentence."""
    person = signed_in()
    with database().reading() as session:
        if not can(session, person, action, now()):
            raise Problem("forbidden", otherwise)
    return person
