"""A request's body as a message: limited in size before and after unpacking, then read strictly."""

import zlib
from typing import Any

from flask import request

from sync import strict_json
from sync.errors import MessageError
from sync.messages import MAX_BODY_BYTES
from webapp.errors import Problem


def read_message() -> Any:
    """The JSON value a request carries; a Problem when it is too large, damaged or not strict JSON."""
    data = request.get_data(cache=False)
    encoding = request.headers.get("Content-Encoding", "identity")
    if encoding == "gzip":
        data = unpack(data, MAX_BODY_BYTES)
    elif encoding != "identity":
        raise Problem("wrong_encoding")
    try:
        return strict_json.parse(data)
    except MessageError as error:
        raise Problem(error.code, error.message, error.field) from error


def unpack(data: bytes, limit: int) -> bytes:
    """The gzip content of some bytes, never holding more than the limit in memory."""
    unpacker = zlib.decompressobj(wbits=31)
    try:
        unpacked = unpacker.decompress(data, limit + 1)
    except zlib.error as error:
        raise Problem("bad_gzip") from error
    if len(unpacked) > limit:
        raise Problem("too_large")
    if not unpacker.eof or unpacker.unused_data:
        raise Problem("bad_gzip")
    return unpacked
