"""POST /api/v1/sync: both directions in one request."""

import logging
from collections import Counter
from collections.abc import Sequence
from datetime import datetime
from functools import partial
from typing import Any

from flask import Blueprint, Response, g

from sync.errors import MessageError
from sync.instants import write_instant
from sync.messages import MAX_ITEMS, MAX_PUSH_BYTES, PROTOCOL, Request, Verdict, parse_request
from sync.server import pull_answer
from sync.strict_json import size_of
from webapp.config import now
from webapp.errors import Problem
from webapp.features.api_docs.describe import described
from webapp.features.audited import note_read
from webapp.features.current import database, signed_in
from webapp.features.packing import answer_with_entries, packed
from webapp.features.sync.body import read_measured
from webapp.features.sync.examining import examine
from webapp.features.sync.noting import Noting
from webapp.storage import Person, append_entries
from webapp.storage.devices import state_of_device
from webapp.storage.handing_back import take_back
from webapp.storage.read import SqlView
from webapp.storage.switches import settings_of

log = logging.getLogger("lintel")
bp = Blueprint("sync", __name__)
bp.after_request(packed)


@bp.post("/api/v1/sync")
@described(
    "Send entries and fetch what is new",
    takes="SyncRequest",
    answers={
        200: "SyncReply",
        400: "Error",
        401: "Error",
        413: "Error",
        415: "Error",
        426: "Error",
        503: "Error",
    },
)
def sync() -> Response:
    """Take what a device sends, entry by entry, and answer with what it has not seen."""
    person, moment = signed_in(), now()
    message = read_measured()
    request, look = _parse(message.value), partial(examine, plain=message.plain)
    _check_amount(request.push, "push", message.size)
    _check_amount(request.handed_back, "returned", message.size)
    # First what a restored log had lost: a push may correct it.
    returned = take_back(database(), person, request, examine=look, now=moment)
    noting = Noting(person, request, g.session_key, moment)
    verdicts = append_entries(
        database(),
        person,
        request.push,
        examine=look,
        device=request.device,
        now=moment,
        also=noting.with_entries,
    )
    noting.by_itself(database(), verdicts)
    reply = _reply(person, request, verdicts, moment)
    if request.returned:
        reply["returned"] = returned
    note_read(person, reply["pull"]["entries"], moment, request.device)
    _log(request, [*verdicts, *returned], reply)
    return answer_with_entries(reply)


def _parse(message: Any) -> Request:
    try:
        return parse_request(message)
    except MessageError as error:
        raise Problem(error.code, error.message, error.field) from error


def _check_amount(items: Sequence[Any], field: str, size: int) -> None:
    if len(items) > MAX_ITEMS:
        raise Problem("too_many", f"At most {MAX_ITEMS} entries can be sent at once.", field)
    if size <= MAX_PUSH_BYTES:
        return
    # One entry alone is judged, however large: a refusal of the message would only repeat itself.
    if len(items) > 1 and sum(size_of(item) for item in items) > MAX_PUSH_BYTES:
        raise Problem("too_large", f"At most {MAX_PUSH_BYTES} bytes of entries can be sent at once.", field)


def _reply(person: Person, request: Request, verdicts: list[Verdict], moment: datetime) -> dict[str, Any]:
    with database().reading() as session:
        state = state_of_device(session, person, request.device)
        view, issue = (
            SqlView(session, person, moment),
            partial(database().receipts.issue, person.organisation),
        )
        epoch, head, pull = pull_answer(view, request, verdicts, state == "revoked", issue)
        settings = settings_of(session, person.organisation)
    return {
        "protocol": PROTOCOL,
        "server_time": write_instant(moment),
        "person": person.id,
        "settings": settings,
        "device_state": state,
        "epoch": epoch,
        "head": head,
        "verdicts": verdicts,
        "pull": pull,
    }


def _log(request: Request, verdicts: list[Verdict], reply: dict[str, Any]) -> None:
    counts = Counter(verdict.verdict for verdict in verdicts)
    codes = sorted({verdict.code for verdict in verdicts if verdict.code})
    log.info(
        "sync",
        extra={
            **counts,
            "device": request.device,
            "code": codes,
            "pulled": len(reply["pull"]["entries"]),
            "filled": len(reply["pull"]["fill"]),
        },
    )
