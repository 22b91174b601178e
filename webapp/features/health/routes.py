"""GET /healthz, GET /healthz/reminders, GET /metrics."""

import hmac
from typing import Any

from flask import Blueprint, Response, request
from sqlalchemy import text

from webapp.config import now, settings
from webapp.errors import Problem
from webapp.features.current import database
from webapp.reminders.health import Health, health_of

bp = Blueprint("health", __name__)


@bp.get("/healthz")
def healthz() -> dict[str, str]:
    """Answers when both the program and its database do."""
    with database().reading() as session:
        session.execute(text("SELECT 1"))
    return {"lintel": "ok"}


@bp.get("/healthz/reminders")
def reminders() -> tuple[dict[str, Any], int]:
    """Whether reminders go out: 200, or 503 when no worker was heard of lately or it does not keep up."""
    found = _health()
    return {"reminders": "ok" if found.well else "late", "workers": found.workers}, 200 if found.well else 503


@bp.get("/metrics")
def metrics() -> Response:
    """Numbers in the OpenMetrics text format, for whoever brings the token of LINTEL_METRICS_TOKEN."""
    expected = f"Bearer {settings().metrics_token}"
    given = request.headers.get("Authorization", "")
    if not settings().metrics_token or not hmac.compare_digest(given.encode(), expected.encode()):
        raise Problem("not_found")
    lines = "".join(f"# TYPE {name} gauge\n{name} {value}\n" for name, value in _gauges(_health()).items())
    return Response(f"{lines}# EOF\n", mimetype="application/openmetrics-text; version=1.0.0; charset=utf-8")


def _health() -> Health:
    with database().reading() as session:
        return health_of(session, now())


def _gauges(found: Health) -> dict[str, int]:
    done = {f"done_{name}": count for name, count in sorted(found.done.items())}
    named = {
        "workers": found.workers,
        "to_reckon": found.to_reckon,
        "oldest_to_reckon_seconds": found.oldest_to_reckon,
        "waiting": found.waiting,
        "late": found.late,
        "browsers": found.browsers,
    }
    return {f"lintel_reminders_{name}": value for name, value in {**named, **done}.items()}
