"""The proxy that ends TLS before the service, with a certificate of a test's choice or a spoilt handshake."""

import contextlib
import socket
import ssl
from collections.abc import Callable

import trustme

from tests.browser.faulty_line import SYNC, read_request
from tests.sync.real_server.spoilt_line import SpoiltLine

Handshake = Callable[[socket.socket], None]
HOST = "127.0.0.1"
BEHIND_TLS = {"LINTEL_DEMO": "", "LINTEL_HOSTS": HOST, "LINTEL_PROXIES": "1"}


class TlsLine(SpoiltLine):
    """Speaks TLS to the device and HTTP to the server."""

    def __init__(self, server_port: int, certificate: ssl.SSLContext) -> None:
        super().__init__(server_port)
        self.url = self.url.replace("http:", "https:")
        self.certificate, self.handshake = certificate, None
        self.heard: list[bytes] = []  # the sync requests that came out of TLS

    def serve(self, near: socket.socket) -> None:
        with near, contextlib.suppress(OSError):
            if self.handshake:
                self.handshake(near)
                return
            with self.certificate.wrap_socket(near, server_side=True) as inside:
                request = read_request(inside)
                if request.startswith(SYNC):
                    self.heard.append(request)
                if request:
                    inside.sendall(self.ask(forwarded(request, self.url)))


def forwarded(request: bytes, url: str) -> bytes:
    """The request with what a proxy adds to it."""
    told = {"For": HOST, "Proto": "https", "Host": url.removeprefix("https://")}
    lines = "".join(f"X-Forwarded-{name}: {value}\r\n" for name, value in told.items())
    first, _, rest = request.partition(b"\r\n")
    return first + b"\r\n" + lines.encode() + rest


def certificate_of(authority: trustme.CA, *names: str, **options) -> ssl.SSLContext:
    """What a server of these names shows, given out by an authority."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    authority.issue_cert(*(names or (HOST,)), **options).configure_cert(context)
    return context


def hangs_up(near: socket.socket) -> None:
    """Nothing comes back to the greeting."""
    near.recv(4096)


def speaks_plainly(near: socket.socket) -> None:
    """HTTP where TLS was asked for."""
    near.recv(4096)
    near.sendall(b"HTTP/1.1 400 Bad Request\r\nContent-Length: 0\r\n\r\n")


def refuses(near: socket.socket) -> None:
    """A fatal alert: no version or cipher in common."""
    near.recv(4096)
    near.sendall(b"\x15\x03\x03\x00\x02\x02\x28")


def breaks_off(near: socket.socket) -> None:
    """The first bytes of a greeting, then nothing."""
    near.recv(4096)
    near.sendall(b"\x16\x03\x03\x00\x7a\x02\x00")


HANDSHAKES: dict[str, Handshake] = {
    "hung up": hangs_up, "plain HTTP": speaks_plainly, "an alert": refuses, "broken off": breaks_off,
}  # fmt: skip
