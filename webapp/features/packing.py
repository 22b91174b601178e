"""Packing answers that hold entries, for whoever says they can unpack them: every browser does."""

from flask import Response, request

from sync.packing import WORTH_PACKING, pack_closely


def packed(response: Response) -> Response:
    """The answer, packed where that is wished for and worth it.

    Only for answers in which no secret stands beside what a sender chooses: their sizes would tell of it.
    """
    response.vary.add("Accept-Encoding")
    if request.accept_encodings["gzip"] and response.is_json and len(response.data) > WORTH_PACKING:
        response.data = pack_closely(response.data)
        response.content_encoding = "gzip"
    return response
