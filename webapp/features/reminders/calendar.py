"""GET /calendar/<token>.ics: whoever has the address reads it, without signing in, until it is ended."""

from flask import Blueprint, Response

from webapp.config import now
from webapp.errors import Problem
from webapp.features.current import database
from webapp.reminders.calendar_feed import feed
from webapp.reminders.habits import whose_calendar
from webapp.storage import can

bp = Blueprint("calendar", __name__)


@bp.get("/calendar/<token>.ics")
def calendar(token: str) -> Response:
    """The feed of whoever the token belongs to; an address that was ended is not there."""
    moment = now()
    with database().reading() as session:
        found = whose_calendar(session, token)
        if found is None or not can(session, found[0], "own_reminders", moment):
            raise Problem("not_found")
        return Response(feed(session, found[1], moment), mimetype="text/calendar")
