"""What a secret number opens without signing in: one's calendar, and a reminder once more.

GET /calendar/<token>.ics is for a calendar program. POST /reminders/again is for the service worker, which
gets the number in an encrypted message, mostly in the morning, when last evening's session is over.
"""

from flask import Blueprint, Response

from webapp.config import now
from webapp.errors import Problem
from webapp.features.current import database
from webapp.features.taking import taken
from webapp.reminders.calendar_feed import feed
from webapp.reminders.habits import remind_again, whose_calendar
from webapp.schemas.requests import AgainRequest
from webapp.storage import can

bp = Blueprint("by_number", __name__)


@bp.get("/calendar/<token>.ics")
def calendar(token: str) -> Response:
    """The feed of whoever the token belongs to; an address that was ended is not there."""
    moment = now()
    with database().reading() as session:
        found = whose_calendar(session, token)
        if found is None or not can(session, found[0], "own_reminders", moment):
            raise Problem("not_found")
        return Response(feed(session, found[1], moment), mimetype="text/calendar")


@bp.post("/reminders/again")
def again() -> dict[str, str]:
    """Remind once more on the next working day; the answer names that day and nobody."""
    asked = taken(AgainRequest)
    with database().writing() as session:
        day = remind_again(session, asked["reminder"], now())
    if day is None:
        raise Problem("not_found")
    return {"day": day.isoformat()}
