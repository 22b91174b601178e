"""Messages sent by hand: what a device would send, sent twice, late, or by several at once."""

import gzip
import json
from typing import Any

from sync import device
from sync.messages import request_json
from sync.transport import Answer
from tests.sync.real_server.team import Device

JSON = {"Content-Type": "application/json"}


def message_of(phone: Device, **other: Any) -> dict[str, Any]:
    """The message that a device would send now."""
    made = request_json(device.request(phone.state, device.batch(phone.state), "test", "A phone"))
    return made | other


def post(phone: Device, message: Any) -> Answer:
    """Send a message under a device's session, without the device taking note of the answer."""
    data = message if isinstance(message, bytes) else json.dumps(message).encode()
    return phone.transport.post("/api/v1/sync", data, JSON | {"X-CSRFToken": csrf(phone)})


def post_packed(phone: Device, data: bytes) -> Answer:
    """Send bytes that say they are gzip."""
    headers = JSON | {"X-CSRFToken": csrf(phone), "Content-Encoding": "gzip"}
    return phone.transport.post("/api/v1/sync", data, headers)


def packed(message: Any) -> bytes:
    return gzip.compress(json.dumps(message).encode(), mtime=0)


def csrf(phone: Device) -> str:
    return str(phone.client.session()["csrf"])
