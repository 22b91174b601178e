"""GET /healthz."""

from flask import Blueprint
from sqlalchemy import text

from webapp.features.current import database

bp = Blueprint("health", __name__)


@bp.get("/healthz")
def healthz() -> dict[str, str]:
    """Answers when both the program and its database do."""
    with database().reading() as session:
        session.execute(text("SELECT 1"))
    return {"lintel": "ok"}
