"""/api/v1/reminders: one's own habits, browsers, calendar, and the once-more of a reminder."""

from datetime import date
from typing import Any

from flask import Blueprint, url_for

from webapp.config import now, settings
from webapp.errors import Problem
from webapp.features.api_docs.describe import described
from webapp.features.current import allowed, database
from webapp.features.taking import taken
from webapp.reminders.addresses import USUAL_HOSTS, BadAddress, check_endpoint
from webapp.reminders.habits import Chosen, choose, chosen_by, end_calendar, make_calendar
from webapp.reminders.subscriptions import (
    BadKeys,
    Subscribed,
    TooMany,
    add_subscription,
    check_keys,
    live_targets,
    remove_subscription,
)
from webapp.reminders.vapid import public_key
from webapp.schemas.requests import (
    CalendarRequest,
    Nothing,
    ReminderHabitsRequest,
    SubscribeRequest,
    UnsubscribeRequest,
)
from webapp.storage import Person
from webapp.storage.models import ReminderHabits

bp = Blueprint("reminders", __name__, url_prefix="/api/v1/reminders")
REFUSALS = {400: "Error", 401: "Error", 403: "Error", 422: "Error"}
NO_PUSH = "This service has not set up reminders by push. The list, the badge and the calendar still work."
FULL = "You already have reminders on as many browsers as one person may. Switch them off on another."


@bp.get("")
@described("What one has chosen about reminders", answers={200: "Reminders", 401: "Error", 403: "Error"})
def reminders() -> dict[str, Any]:
    """Habits, whether there is a calendar, on how many browsers, and the key to subscribe by."""
    return _told(allowed("own_reminders"))


@bp.post("/habits")
@described(
    "Choose when to be reminded", takes="ReminderHabitsRequest", answers={200: "Reminders", **REFUSALS}
)
def habits() -> dict[str, Any]:
    """Keep what was chosen, and tell all that is in force."""
    person = allowed("own_reminders")
    asked = taken(ReminderHabitsRequest)
    quiet = [asked[name] and date.fromisoformat(asked[name]) for name in ("quiet_from", "quiet_until")]
    with database().writing() as session:
        choose(session, person, Chosen(asked["at"], asked["zone"], asked["days"], *quiet), now())
    return _told(person)


@bp.post("/subscribe")
@described(
    "Have a browser take reminders",
    takes="SubscribeRequest",
    answers={200: "Reminders", **REFUSALS, 404: "Error"},
)
def subscribe() -> dict[str, Any]:
    """Put a browser in, after a look at where its messages would go."""
    person = allowed("own_reminders")
    asked = Subscribed(**taken(SubscribeRequest))
    if not settings().push_private_key:
        raise Problem("not_found", NO_PUSH)
    try:
        check_endpoint(asked.endpoint, settings().push_hosts or USUAL_HOSTS)
        check_keys(asked.p256dh, asked.auth)
        with database().writing() as session:
            add_subscription(session, person, asked, now())
    except BadAddress as error:
        raise Problem("invalid", str(error), "endpoint") from error
    except BadKeys as error:
        raise Problem("invalid", str(error), "p256dh") from error
    except TooMany as error:
        raise Problem("invalid", FULL, "endpoint") from error
    return _told(person)


@bp.post("/unsubscribe")
@described(
    "Have a browser take no more reminders",
    takes="UnsubscribeRequest",
    answers={200: "Reminders", **REFUSALS},
)
def unsubscribe() -> dict[str, Any]:
    """End a browser's subscription; one that is not there is as good as ended."""
    person = allowed("own_reminders")
    asked = taken(UnsubscribeRequest)
    with database().writing() as session:
        remove_subscription(session, person, asked["endpoint"], now())
    return _told(person)


@bp.post("/calendar")
@described(
    "Make a private calendar address", takes="CalendarRequest", answers={200: "CalendarMade", **REFUSALS}
)
def make() -> dict[str, Any]:
    """A new address, told this once; the one before leads nowhere."""
    person = allowed("own_reminders")
    asked = taken(CalendarRequest)
    with database().writing() as session:
        token = make_calendar(session, person, asked["names"], now())
    return {"address": url_for("by_number.calendar", token=token, _external=True)}


@bp.post("/calendar/end")
@described("End the private calendar address", takes="Nothing", answers={200: "Reminders", **REFUSALS})
def end() -> dict[str, Any]:
    """From now on the address leads nowhere."""
    person = allowed("own_reminders")
    taken(Nothing)
    with database().writing() as session:
        end_calendar(session, person, now())
    return _told(person)


def _told(person: Person) -> dict[str, Any]:
    private = settings().push_private_key
    with database().reading() as session:
        row = chosen_by(session, person)
        browsers = len(live_targets(session, person.organisation, person.id))
    return {
        "key": public_key(private) if private else None,
        "habits": row and _habits(row),
        "calendar": bool(row and row.calendar_hash),
        "calendar_names": bool(row and row.calendar_names),
        "browsers": browsers,
    }


def _habits(row: ReminderHabits) -> dict[str, Any]:
    return {
        "at": row.at,
        "zone": row.zone,
        "days": row.days,
        "quiet_from": row.quiet_from and row.quiet_from.isoformat(),
        "quiet_until": row.quiet_until and row.quiet_until.isoformat(),
    }
