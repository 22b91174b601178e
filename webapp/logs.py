"""Logs as JSON lines. A list says what may be logged: ids, codes, counts; no texts, no names."""

import json
import logging
import uuid
from datetime import UTC, datetime
from time import perf_counter

from flask import Flask, Response, g, request

from webapp.circumstances import set_circumstances

ALLOWED = (
    "request",
    "method",
    "route",
    "status",
    "milliseconds",
    "organisation",
    "user",
    "device",
    "error",
    "where",
    "code",
    "applied",
    "duplicate",
    "clash",
    "waiting",
    "held",
    "later",
    "pulled",
    "filled",
)
log = logging.getLogger("lintel")


class AllowListFormatter(logging.Formatter):
    """Writes the allowed extras; the message only of our own logger, where it is constant."""

    def format(self, record: logging.LogRecord) -> str:
        """One line of JSON."""
        line = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
        }
        if record.name == "lintel" and not record.args:
            line["event"] = str(record.msg)
        line |= {key: getattr(record, key) for key in ALLOWED if hasattr(record, key)}
        return json.dumps(line)


def log_to_stderr() -> None:
    """Have our own logger write lines of JSON, in the server and in the workers."""
    if not any(isinstance(handler.formatter, AllowListFormatter) for handler in log.handlers):
        handler = logging.StreamHandler()
        handler.setFormatter(AllowListFormatter())
        log.addHandler(handler)
    log.setLevel(logging.INFO)
    log.propagate = False


def init_logs(app: Flask) -> None:
    """Log each request by its route (never its address) and quieten whoever logs addresses."""
    log_to_stderr()
    logging.getLogger("werkzeug").setLevel(logging.ERROR)
    app.logger.handlers[:] = log.handlers
    app.logger.propagate = False
    app.before_request(_start)
    app.after_request(_log_request)


def _start() -> None:
    g.started = perf_counter()
    g.request_id = uuid.uuid4().hex
    set_circumstances(None, g.request_id)


def _log_request(response: Response) -> Response:
    route = request.url_rule.rule if request.url_rule else None
    extra = {
        "request": g.get("request_id"),
        "method": request.method,
        "route": route,
        "status": response.status_code,
        "milliseconds": round((perf_counter() - g.get("started", perf_counter())) * 1000),
    }
    person = g.get("person")
    if person is not None:
        extra |= {"organisation": person.organisation, "user": person.id}
    log.info("request", extra=extra)
    return response
