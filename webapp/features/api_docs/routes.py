"""GET /api/v1/openapi.json."""

from typing import Any

from flask import Blueprint, current_app

from webapp.features.api_docs.describe import described
from webapp.features.api_docs.document import document

bp = Blueprint("api_docs", __name__)


@bp.get("/api/v1/openapi.json")
@described("This description", answers={200: "Anything"})
def openapi() -> dict[str, Any]:
    """The OpenAPI 3.1 description of everything under /api/."""
    return document(current_app)
