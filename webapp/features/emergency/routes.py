"""GET and POST /api/v1/emergency-access, POST /api/v1/emergency-access/<id>/seen."""

from typing import Any
from uuid import UUID

from flask import Blueprint

from sync.instants import write_instant
from webapp.config import now, settings
from webapp.errors import Problem
from webapp.features.api_docs.describe import described
from webapp.features.current import allowed, database
from webapp.features.taking import taken
from webapp.schemas.requests import EmergencyRequest, Nothing
from webapp.storage.emergency import Access, Asked, mark_seen, open_in_emergency, recent_accesses

bp = Blueprint("emergency", __name__, url_prefix="/api/v1/emergency-access")
NOBODY = (
    "No one client fits. Check the date of birth, and write the name as it is recorded: "
    "the full name, if the family name alone is not enough."
)


@bp.post("")
@described(
    "Open one client's record in an emergency",
    takes="EmergencyRequest",
    answers={
        200: "EmergencyOpened",
        400: "Error",
        401: "Error",
        403: "Error",
        404: "Error",
        422: "Error",
        429: "Error",
    },
)
def ask() -> dict[str, Any]:
    """Put the one client who fits on the caseload for some hours; the record follows by sync."""
    person, moment = allowed("open_in_emergency"), now()
    asked = Asked(**taken(EmergencyRequest))
    opened = open_in_emergency(database(), person, asked, settings().emergency_hours, moment)
    if opened is None:
        raise Problem("not_found", NOBODY, "name")
    return {"client": opened.client, "until": opened.until and write_instant(opened.until)}


@bp.get("")
@described(
    "Emergency access of the last 30 days to the clients of one's teams",
    answers={200: "EmergencyAccesses", 401: "Error", 403: "Error"},
)
def review() -> dict[str, Any]:
    """What a lead answers for, the latest first."""
    person = allowed("review_emergencies")
    with database().reading() as session:
        return {"accesses": [_shown(access) for access in recent_accesses(session, person, now())]}


@bp.post("/<uuid:access>/seen")
@described(
    "Note that one has looked at an emergency access",
    takes="Nothing",
    answers={200: "EmergencySeen", 400: "Error", 401: "Error", 403: "Error", 404: "Error", 422: "Error"},
)
def seen(access: UUID) -> dict[str, Any]:
    """Mark one access as seen by this lead; a second time changes nothing."""
    person = allowed("review_emergencies")
    taken(Nothing)
    with database().writing() as session:
        return {"seen_at": write_instant(mark_seen(session, person, str(access), now()))}


def _shown(access: Access) -> dict[str, Any]:
    return {
        "id": access.id,
        "person": {"id": access.person.id, "name": access.person.name},
        "client": access.client,
        "since": write_instant(access.since),
        "until": access.until and write_instant(access.until),
        "reason": access.reason,
        "seen_at": access.seen_at and write_instant(access.seen_at),
    }
