"""A request's body as a message: limited in size before and after unpacking, then read strictly."""

from typing import Any

from flask import request

from sync import strict_json
from sync.errors import MessageError
from sync.messages import MAX_BODY_BYTES
from sync.packing import unpack
from webapp.errors import Problem


def read_message() -> Any:
    """The JSON value a request carries; a Problem when there is no using it."""
    return read_measured()[0]


def read_measured() -> tuple[Any, int]:
    """The JSON value a request carries, and the bytes it took; a Problem when there is no using it.

    That is when it is too large, damaged or not strict JSON.
    """
    data = request.get_data(cache=False)
    encoding = request.headers.get("Content-Encoding", "identity")
    if encoding == "gzip":
        data = _unpacked(data)
    elif encoding != "identity":
        raise Problem("wrong_encoding")
    try:
        return strict_json.parse(data), len(data)
    except MessageError as error:
        raise Problem(error.code, error.message, error.field) from error


def _unpacked(data: bytes) -> bytes:
    try:
        return unpack(data, MAX_BODY_BYTES)
    except MessageError as error:
        raise Problem(error.code) from error
