"""Where push messages may go. An endpoint is an address that a browser, and so anybody, gives us.

Only hosts of the list, over TLS, to public addresses: what a name resolved to is looked at once connected,
before a byte is sent, so that a name that answers differently the second time gains nothing. Loopback is for
tests and the demo, and only where the list names it with its port.
"""

import ipaddress
from collections.abc import Iterable
from typing import Any
from urllib.parse import urlsplit

from requests import Session
from requests.adapters import HTTPAdapter
from urllib3.connection import HTTPConnection, HTTPSConnection
from urllib3.connectionpool import HTTPConnectionPool, HTTPSConnectionPool
from urllib3.poolmanager import PoolManager

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
    if parts.scheme == "http" and f"{host}:{port}" in allowed and _is_loopback(host):
        return
    if parts.scheme != "https" or port not in (None, 443):
        raise BadAddress("A push service is reached by https, on the usual port.")
    if not any(_fits(host, each) for each in allowed):
        raise BadAddress("This service sends no reminders through the push service of this browser.")


def _fits(host: str, allowed: str) -> bool:
    return host.endswith(allowed) if allowed.startswith(".") else host == allowed


def _is_loopback(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def guarded_session(hosts: Iterable[str]) -> Session:
    """A session that connects to public addresses only, follows no redirect and heeds no environment."""
    loopback = any(_is_loopback(each.rpartition(":")[0]) for each in hosts)
    session = Session()
    session.trust_env = False
    session.max_redirects = 0
    session.mount("https://", _GuardedAdapter(loopback))
    session.mount("http://", _GuardedAdapter(loopback))
    return session


class _GuardedAdapter(HTTPAdapter):
    def __init__(self, loopback: bool) -> None:
        self._loopback = loopback
        super().__init__(max_retries=0)

    def init_poolmanager(self, *args: Any, **kwargs: Any) -> None:
        super().init_poolmanager(*args, **kwargs)
        manager: PoolManager = self.poolmanager
        manager.pool_classes_by_scheme = _pools(self._loopback)

    def send(self, request: Any, *args: Any, **kwargs: Any) -> Any:
        response = super().send(request, *args, **kwargs)
        # An answer that points elsewhere is a failed one: requests would follow it.
        response.headers.pop("Location", None)
        return response


def _pools(loopback: bool) -> dict[str, Any]:
    class Plain(HTTPConnection):
        def _new_conn(self) -> Any:
            return _checked(super()._new_conn(), loopback)

    class Secure(HTTPSConnection):
        def _new_conn(self) -> Any:
            return _checked(super()._new_conn(), loopback)

    class PlainPool(HTTPConnectionPool):
        ConnectionCls = Plain

    class SecurePool(HTTPSConnectionPool):
        ConnectionCls = Secure

    return {"http": PlainPool, "https": SecurePool}


def _checked(connected: Any, loopback: bool) -> Any:
    """A connection whose other end may be talked to; closed and refused otherwise."""
    address = ipaddress.ip_address(connected.getpeername()[0].partition("%")[0])
    mapped = getattr(address, "ipv4_mapped", None) or address
    if not (mapped.is_global and not mapped.is_multicast) and not (loopback and mapped.is_loopback):
        connected.close()
        raise BadAddress("The address of the push service leads into a private network.")
    return connected
