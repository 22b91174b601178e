"""GET /api/v1/audit, and the same as a page: /audit."""

from typing import Any
from uuid import UUID

from flask import Blueprint, render_template, request

from webapp.config import now
from webapp.errors import Problem
from webapp.features.api_docs.describe import described
from webapp.features.current import allowed, database
from webapp.storage import Person
from webapp.storage.audit import ACTIONS
from webapp.storage.audit.reading import MOST_ROWS, Shown, Wanted, names_of, row_json, rows_for_lead

bp = Blueprint("audit", __name__)
FOR_LEADS = "Only a lead may read who did what."


@bp.get("/api/v1/audit")
@described(
    "Who did what, the newest first; for leads",
    query={"before": "the number of the last row of the page before"},
    answers={200: "Audit", 400: "Error", 401: "Error", 403: "Error"},
)
def audit() -> dict[str, Any]:
    """A page of what was done by one's teams and about their clients; `client` and `person` narrow it.

    Of a client who is none of one's teams' and was asked for in vain, the record's `id` is null.
    """
    rows = _rows(allowed("read_audit", FOR_LEADS), _wanted())
    return {"rows": [row_json(row) for row in rows], "more": len(rows) == MOST_ROWS}


@bp.get("/audit")
def audit_page() -> str:
    """The same to read: codes told in words, people by name."""
    person, wanted = allowed("read_audit", FOR_LEADS), _wanted()
    rows = _rows(person, wanted)
    with database().reading() as session:
        names = names_of(session, person.organisation)
    return render_template(
        "audit.html", rows=rows, names=names, actions=ACTIONS, wanted=wanted, more=len(rows) == MOST_ROWS
    )


def _wanted() -> Wanted:
    before = request.args.get("before")
    if before is not None and not (before.isascii() and before.isdigit() and len(before) < 16):
        raise Problem("malformed", "The number must be a whole number from 0.", "before")
    return Wanted(_id("client"), _id("person"), before=None if before is None else int(before))


def _id(name: str) -> str | None:
    text = request.args.get(name) or None
    try:
        return None if text is None else str(UUID(text))
    except ValueError as error:
        raise Problem("malformed", f"The {name} must be an id.", name) from error


def _rows(person: Person, wanted: Wanted) -> list[Shown]:
    with database().reading() as session:
        return rows_for_lead(session, person, wanted, now())
