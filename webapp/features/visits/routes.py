"""GET /forms/<measure>: the form of one measure as a page."""

import hashlib

from flask import Blueprint, Response, abort, make_response, render_template, request

from webapp.clinical import measures
from webapp.features.visits.forms import measure_form

bp = Blueprint("visits", __name__, url_prefix="/forms")


@bp.get("/<measure_id>")
def form_page(measure_id: str) -> Response:
    """The form of a measure; 404 for a measure the clinical data does not know."""
    if measure_id not in measures:
        abort(404)
    response = make_response(render_form(measure_id))
    response.set_etag(hashlib.sha256(response.get_data()).hexdigest())
    response.headers["Cache-Control"] = "no-cache"
    return response.make_conditional(request)


def render_form(measure_id: str) -> str:
    """The page's HTML, the same for everybody."""
    measure = measures[measure_id]
    return render_template("measure_form.html", measure=measure, form=measure_form(measure))
