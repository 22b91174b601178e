"""One tree of errors, one table of their codes, one function that writes them, as JSON or as a page."""

import logging
from typing import Any

from flask import Flask, Response, jsonify, make_response, render_template, request
from flask_wtf.csrf import CSRFError
from sqlalchemy.exc import InternalError, OperationalError
from werkzeug.exceptions import HTTPException

log = logging.getLogger("lintel")

# code -> status and what to tell a person. A Problem may bring a sentence of its own.
CODES: dict[str, tuple[int, str]] = {
    "malformed": (
        400,
        "The message could not be read. Nothing in it was taken; nothing on the device is lost.",
    ),
    "duplicate_key": (400, "The message names a field twice. Nothing in it was taken."),
    "too_deep": (400, "The message is nested too deeply. Nothing in it was taken."),
    "bad_gzip": (400, "The compressed message is damaged. Send it again."),
    "bad_request": (400, "The request could not be understood."),
    "csrf": (400, "This page has been open for too long. Load it again and repeat what you did."),
    "sign_in_needed": (401, "Please sign in. What you recorded stays on this device."),
    "cross_site": (403, "This request came from another site and was refused."),
    "forbidden": (403, "You may not do this."),
    "not_found": (404, "There is nothing here."),
    "wrong_method": (405, "This address does not offer that."),
    "too_large": (413, "This is too large. Send less at once."),
    "too_many": (413, "These are too many entries at once. Send fewer."),
    "wrong_type": (415, "Only JSON is taken here (Content-Type: application/json)."),
    "wrong_encoding": (415, "Only gzip is understood as a compression here."),
    "invalid": (422, "Something in this is not valid."),
    "protocol": (426, "The app and the server speak different versions. Update the older of the two."),
    "slow_down": (429, "Too many attempts. Wait a little, then try again."),
    "server_error": (500, "Something went wrong on the server. Nothing recorded on the device is lost."),
    "busy": (503, "The server is busy. It is tried again by itself."),
}
_BY_STATUS = {
    400: "bad_request",
    401: "sign_in_needed",
    403: "forbidden",
    404: "not_found",
    405: "wrong_method",
    413: "too_large",
    415: "wrong_type",
    422: "invalid",
    429: "slow_down",
    503: "busy",
}


class Problem(Exception):
    """Something that ends a request, told by a code of the table."""

    def __init__(
        self, code: str, message: str | None = None, field: str | None = None, retry_after: int | None = None
    ) -> None:
        super().__init__(code)
        self.code, self.field, self.retry_after = code, field, retry_after
        self.status, standard = CODES[code]
        self.message = message or standard


def slow_down(seconds: int) -> Problem:
    """The answer to too many tries: when the next one is possible."""
    duration = f"{seconds} seconds" if seconds < 90 else f"{-(-seconds // 60)} minutes"
    return Problem("slow_down", f"Too many attempts. Try again in {duration}.", retry_after=seconds)


def init_errors(app: Flask) -> None:
    """Have every error of an application answered by `answer`."""
    app.register_error_handler(Problem, answer)
    app.register_error_handler(CSRFError, lambda _error: answer(Problem("csrf")))
    app.register_error_handler(OperationalError, _database_busy)
    # PostgreSQL says so of a transaction it ended for waiting, and of a server that only reads for now.
    app.register_error_handler(InternalError, _database_busy)
    app.register_error_handler(HTTPException, _http_error)
    app.register_error_handler(Exception, _unexpected)


def answer(problem: Problem) -> Response:
    """The response for a problem: JSON under /api/, a page elsewhere."""
    if request.path.startswith("/api/"):
        response = jsonify(error_json(problem))
    else:
        response = make_response(render_template("error.html", problem=problem))
    response.status_code = problem.status
    if problem.retry_after is not None:
        response.headers["Retry-After"] = str(problem.retry_after)
    return response


def error_json(problem: Problem) -> dict[str, Any]:
    """The one shape of an error."""
    return {"error": {"code": problem.code, "field": problem.field, "message": problem.message}}


def _http_error(error: HTTPException) -> Response:
    if error.code is None or error.code < 400:
        return make_response(error.get_response())
    return answer(Problem(_BY_STATUS.get(error.code, "server_error" if error.code >= 500 else "bad_request")))


def _database_busy(error: OperationalError | InternalError) -> Response:
    log.warning("database", extra={"error": type(error.orig).__name__})
    return answer(Problem("busy", retry_after=5))


def _unexpected(error: Exception) -> Response:
    log.error("unexpected", extra={"error": type(error).__name__, "where": where(error)})
    return answer(Problem("server_error"))


def where(error: BaseException) -> str:
    """The places an error passed through, without its text: that may hold what somebody typed."""
    places, step = [], error.__traceback__
    while step is not None:
        places.append(f"{step.tb_frame.f_globals.get('__name__', '?')}:{step.tb_lineno}")
        step = step.tb_next
    return " ".join(places[-6:])
