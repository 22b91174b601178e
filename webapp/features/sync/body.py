"""A request's body as a message: limited in size before and after unpacking, then read strictly."""

from typing import Any, NamedTuple

from flask import request

from sync import strict_json
from sync.errors import MessageError
from sync.messages import MAX_BODY_BYTES
from sync.packing import unpack
from webapp.errors import Problem


class Message(NamedTuple):
    """The JSON value of a request, whether it is surely as sync.plain has it, and the bytes it took."""

    value: Any
    plain: bool
    size: int


def read_message() -> Any:
    """The JSON value a request carries; a Problem when there is no using it."""
    return read_measured().value


def read_measured() -> Message:
    """The message of a request; a Problem when it is too large, damaged or not strict JSON."""
    data = request.get_data(cache=False)
    encoding = request.headers.get("Content-Encoding", "identity")
    if encoding == "gzip":
        data = _unpacked(data)
    elif encoding != "identity":
        raise Problem("wrong_encoding")
    try:
        return Message(*strict_json.parse_known(data), len(data))
    except MessageError as error:
        raise Problem(error.code, error.message, error.field) from error


def _unpacked(data: bytes) -> bytes:
    try:
        return unpack(data, MAX_BODY_BYTES)
    except MessageError as error:
        raise Problem(error.code) from error
