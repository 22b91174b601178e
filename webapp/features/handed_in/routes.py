"""/handed-in: what devices handed in, for whoever decides about it; looking at it, and having it taken."""

from hashlib import sha256
from uuid import UUID

from flask import Blueprint, Response, flash, make_response, redirect, render_template, request

from sync.shapes import is_uuid
from webapp.config import now
from webapp.features.audited import note_read
from webapp.features.current import allowed, database
from webapp.features.handed_in.words import REASONS, client_name, content, title
from webapp.features.sync.examining import examine
from webapp.storage.admitting import CODES, NOTHING, Aside, admit, decidable, left_aside
from webapp.storage.deciding import pieces
from webapp.storage.people import Person
from webapp.storage.read import entries_of
from webapp.storage.refused import NotThere

bp = Blueprint("handed_in", __name__)
FOR_LEADS = "Only a lead of the team, or an administrator, decides about this."
# So that a page stays one; what is beyond is counted.
MOST_SHOWN = 200
LOOK_FIRST = "Look at what stands here now, then decide: there is more or less of it than you have seen."
DONE = "What could be taken is in the record now, under its author and with its own times."


@bp.get("/handed-in")
def handed_in() -> Response:
    """How much, of whose device, received when; never what it says."""
    actor = allowed("admit_held", FOR_LEADS)
    with database().reading() as session:
        found = {code: decidable(session, actor, now(), code) for code in CODES}
    return make_response(render_template("handed_in.html", aside=found, office=actor.role == "administrator"))


@bp.get("/handed-in/<uuid:device>")
def look(device: UUID) -> Response:
    """What one device handed in: of clients whom whoever asks may see what it says, else who and when."""
    actor, moment, code = allowed("admit_held", FOR_LEADS), now(), request.args.get("why", CODES[0])
    found = _found(actor, str(device), code)
    with database().reading() as session:
        shown = [(each, pieces(session, actor, each, moment, MOST_SHOWN)) for each in found]
    seen = [piece.entry for _, each in shown for piece in each if piece.entry]
    note_read(actor, seen, moment)
    page = render_template(
        "handed_in_device.html",
        heading=REASONS[code][0],
        advice=REASONS[code][1],
        shown=shown,
        code=code,
        mark=_mark(found),
        names=_names(actor, {entry["client"] for entry in seen}),
        title=title,
        content=lambda entry: content(entry, moment),
    )
    return make_response(page)


@bp.post("/handed-in")
def take() -> Response:
    """Have what was looked at taken into the record; 404 when none of it is theirs to decide."""
    actor, device = allowed("admit_held", FOR_LEADS), request.form.get("device", "")
    code = request.form.get("why", CODES[0])
    if request.form.get("mark") != _mark(_found(actor, device, code)):
        flash(LOOK_FIRST)
        return redirect(f"/handed-in/{device}?why={code}", 303)
    left = left_aside(admit(database(), actor, device, examine, now(), code))
    flash(DONE)
    if left:
        flash(f"{left} could not be taken for another reason and stay aside as they came.")
    return redirect("/handed-in", 303)


def _found(actor: Person, device: str, code: str) -> list[Aside]:
    if not is_uuid(device) or code not in CODES:
        raise NotThere(NOTHING, "device")
    with database().reading() as session:
        found = [each for each in decidable(session, actor, now(), code) if each.device == device]
    if not found:
        raise NotThere(NOTHING, "device")
    return found


def _mark(found: list[Aside]) -> str:
    """Stands for what is there to be decided: nobody takes what has come since they looked."""
    known = [f"{each.person.id} {each.count} {each.last_at.isoformat()}" for each in found]
    return sha256("; ".join(known).encode()).hexdigest()


def _names(actor: Person, clients: set[str]) -> dict[str, str]:
    with database().reading() as session:
        return {own: client_name(entries_of(session, actor.organisation, own), now()) for own in clients}
