"""/handed-in: for a lead, what devices of their people handed in for a decision, and having it taken."""

from flask import Blueprint, Response, flash, make_response, redirect, render_template, request

from sync.shapes import is_uuid
from webapp.config import now
from webapp.features.current import allowed, database
from webapp.features.sync.examining import examine
from webapp.storage.admitting import CODES, NOTHING, admit, decidable, left_aside
from webapp.storage.refused import NotThere

bp = Blueprint("handed_in", __name__)
FOR_LEADS = "Only a lead of the team, or an administrator, decides about this."
DONE = "What could be taken is in the record now, under its author and with its own times."


@bp.get("/handed-in")
def handed_in() -> Response:
    """How much, of whose device, received when; never what it says."""
    actor = allowed("admit_held", FOR_LEADS)
    with database().reading() as session:
        found = {code: decidable(session, actor, now(), code) for code in CODES}
    return make_response(render_template("handed_in.html", aside=found))


@bp.post("/handed-in")
def take() -> Response:
    """Have what one device handed in taken into the record; 404 when none of it is of this lead's people."""
    actor, device = allowed("admit_held", FOR_LEADS), request.form.get("device", "")
    code = request.form.get("why", CODES[0])
    if not is_uuid(device) or code not in CODES:
        raise NotThere(NOTHING, "device")
    left = left_aside(admit(database(), actor, device, examine, now(), code))
    flash(DONE)
    if left:
        flash(f"{left} could not be taken for another reason and stay aside as they came.")
    return redirect("/handed-in", 303)
