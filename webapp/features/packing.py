"""Answers that hold entries: written, and packed for whoever says they can unpack them, as every browser."""

from collections.abc import Mapping
from typing import Any

import msgspec
from flask import Response, current_app, request

from sync.packing import WORTH_PACKING, pack_closely


def answer_with_entries(facts: Mapping[str, Any]) -> Response:
    """The answer, with the bodies of entries as they are kept."""
    return current_app.response_class(msgspec.json.encode(facts), mimetype="application/json")


def packed(response: Response) -> Response:
    """The answer, packed where that is wished for and worth it.

    Only for answers in which no secret stands beside what a sender chooses: their sizes would tell of it.
    """
    response.vary.add("Accept-Encoding")
    if request.accept_encodings["gzip"] and response.is_json and len(response.data) > WORTH_PACKING:
        response.data = pack_closely(response.data)
        response.content_encoding = "gzip"
    return response
