"""The line to push services: it connects to public addresses only.

What a name resolved to is looked at once connected, before a byte is sent, so that a name that answers
differently the second time gains nothing. Only whoever sends needs this and what it brings along.
"""

import ipaddress
from collections.abc import Iterable
from typing import Any

from requests import Session
from requests.adapters import HTTPAdapter
from urllib3.connection import HTTPConnection, HTTPSConnection
from urllib3.connectionpool import HTTPConnectionPool, HTTPSConnectionPool
from urllib3.poolmanager import PoolManager

from webapp.reminders.addresses import BadAddress, is_loopback


def guarded_session(hosts: Iterable[str]) -> Session:
    """A session that connects to public addresses only, follows no redirect and heeds no environment."""
    loopback = any(is_loopback(each.rpartition(":")[0]) for each in hosts)
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
