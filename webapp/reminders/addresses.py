"""Where push messages may go. An endpoint is an address that a browser, and so anybody, gives us.

Only hosts of the list, over TLS, to public addresses (webapp/reminders/guarded.py looks at those). Loopback
is for tests and the demo, and only where the list names it with its port.
"""

import ipaddress
from collections.abc import Iterable
from dataclasses import dataclass
from urllib.parse import urlsplit

# The push services of the usual browsers; a leading dot stands for any host below. From memory.
USUAL_HOSTS = (
    "fcm.googleapis.com",
    "updates.push.services.mozilla.com",
    "web.push.apple.com",
    ".notify.windows.com",
)
LONGEST = 2048


class BadAddress(ValueError):
    """Nothing may be sent to an address; the text is a sentence without it."""


@dataclass(frozen=True)
class Target:
    """One browser's subscription."""

    hash: str
    endpoint: str
    p256dh: str
    auth: str


def check_endpoint(endpoint: str, hosts: Iterable[str]) -> None:
    """Nothing for an address messages may go to; BadAddress otherwise. Asks no name service."""
    try:
        parts = urlsplit(endpoint)
        host, port = parts.hostname or "", parts.port
    except ValueError as error:
        raise BadAddress("This is no address of a push service.") from error
    if len(endpoint) > LONGEST or not endpoint.isascii() or parts.username is not None or parts.fragment:
        raise BadAddress("This is no address of a push service.")
    allowed = tuple(hosts)
    if parts.scheme == "http" and f"{host}:{port}" in allowed and is_loopback(host):
        return
    if parts.scheme != "https" or port not in (None, 443):
        raise BadAddress("A push service is reached by https, on the usual port.")
    if not any(_fits(host, each) for each in allowed):
        raise BadAddress("This service sends no reminders through the push service of this browser.")


def _fits(host: str, allowed: str) -> bool:
    return host.endswith(allowed) if allowed.startswith(".") else host == allowed


def is_loopback(host: str) -> bool:
    """Whether an address, not a name, is of this computer alone."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False
