"""The pull half of an answer: one page of the main stream, then of the clients being filled."""

from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from sync.messages import Pull, Request
from webapp.storage import Person
from webapp.storage.read import (
    Budget,
    caseload_of,
    caseload_version,
    fill_page,
    head_and_epoch,
    main_page,
)


def pull_answer(
    session: Session, person: Person, request: Request, at: datetime
) -> tuple[str, int, dict[str, Any]]:
    """Epoch, head and page for a request; a device of another epoch is answered from the beginning."""
    head, epoch = head_and_epoch(session, person.organisation)
    pull = request.pull
    if request.epoch != epoch or pull.after > head:
        pull = Pull()
    clients = caseload_of(session, person, at)
    version = caseload_version(clients)
    budget = Budget()
    own_device = request.device if pull.after > 0 else None
    main = main_page(session, person, at, pull.after, head, budget, own_device)
    entries, filled = main.entries, []
    for fill in pull.fill:
        if fill.client in clients:
            page = fill_page(session, person, at, fill, head, budget)
            entries = entries + page.entries
            filled.append({"client": fill.client, "after": page.after, "more": page.more})
    caseload = None if pull.caseload == version else {"version": version, "clients": clients}
    return (
        epoch,
        head,
        {"entries": entries, "after": main.after, "more": main.more, "caseload": caseload, "fill": filled},
    )
