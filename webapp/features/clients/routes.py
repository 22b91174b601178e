"""GET /api/v1/clients and GET /api/v1/clients/<id>/entries."""

from typing import Any
from uuid import UUID

from flask import Blueprint, Response, request

from sync.messages import Fill
from sync.pages import Budget, fill_page
from webapp.config import now
from webapp.errors import Problem
from webapp.features.api_docs.describe import described
from webapp.features.audited import note_client_refused, note_read
from webapp.features.current import database, signed_in
from webapp.features.packing import answer_with_entries, packed
from webapp.storage import can
from webapp.storage.read import SqlView

bp = Blueprint("clients", __name__)
bp.after_request(packed)


@bp.get("/api/v1/clients")
@described("The clients on one's caseload", answers={200: "Clients", 401: "Error"})
def clients() -> dict[str, Any]:
    """The ids of the clients a person may see now."""
    person = signed_in()
    with database().reading() as session:
        return {"clients": [{"id": client} for client in SqlView(session, person, now()).clients()]}


@bp.get("/api/v1/clients/<uuid:client>/entries")
@described(
    "One client's entries, oldest first, in pages",
    query={"after": "the cursor of the page before"},
    answers={200: "ClientEntries", 400: "Error", 401: "Error", 404: "Error"},
)
def entries(client: UUID) -> Response:
    """A page of one client's entries; a client who may not be seen is not there."""
    person, moment = signed_in(), now()
    after = _after()
    with database().reading() as session:
        if not can(session, person, "read_client", moment, str(client)):
            note_client_refused(person, str(client), moment)
            raise Problem("not_found")
        view = SqlView(session, person, moment)
        head, _epoch = view.head_and_epoch()
        page = fill_page(view, Fill(str(client), after), head, Budget())
    note_read(person, page.entries, moment)
    return answer_with_entries({"entries": page.entries, "after": page.after, "more": page.more})


def _after() -> int:
    text = request.args.get("after", "0")
    if not (text.isascii() and text.isdigit() and len(text) < 16):
        raise Problem("malformed", "The cursor must be a whole number from 0.", "after")
    return int(text)
