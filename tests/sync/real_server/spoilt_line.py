"""A loopback line between device and server that spoils what a test tells it to, once each."""

import contextlib
import socket
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from typing import Any

from tests.browser.faulty_line import SYNC, ask, break_off, read_request

Reply = bytes
PATIENCE = 60


class SpoiltLine:
    """Passes connections on to the server; the next sync request meets the next of `faults`."""

    def __init__(self, server_port: int) -> None:
        self.server_port, self.faults = server_port, list[Fault]()
        self.request, self.reply = b"", b""  # the last that passed whole
        self.listener = socket.create_server(("127.0.0.1", 0), backlog=64)
        self.url = f"http://127.0.0.1:{self.listener.getsockname()[1]}"

    def listen(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                near, _ = self.listener.accept()
                threading.Thread(target=self.serve, args=(near,), daemon=True).start()

    def serve(self, near: socket.socket) -> None:
        with near, contextlib.suppress(OSError):
            request = read_request(near)
            if not request:
                return
            if request.startswith(SYNC) and self.faults:
                self.faults.pop(0)(self, near, request)
                return
            reply = self.ask(request)
            if request.startswith(SYNC):
                self.request, self.reply = request, reply
            near.sendall(reply)

    def ask(self, request: bytes, reset: bool = False) -> Reply:
        """Everything the server says to these bytes, after which the line closes or breaks."""
        return ask(self.server_port, request, reset, PATIENCE)


Fault = Callable[[SpoiltLine, socket.socket, bytes], None]


@contextmanager
def line_to(server_port: int, kind: type["SpoiltLine"] | None = None, *more: Any) -> Iterator[Any]:
    """A line, of the plain kind unless told otherwise, that listens until the end of the block."""
    line = (kind or SpoiltLine)(server_port, *more)
    thread = threading.Thread(target=line.listen, daemon=True)
    thread.start()
    try:
        yield line
    finally:
        with contextlib.suppress(OSError):
            line.listener.shutdown(socket.SHUT_RDWR)
        line.listener.close()
        thread.join(PATIENCE)


def request_cut(after: int, reset: bool) -> Fault:
    """The server gets so many bytes of the request, then the line is gone on both sides."""

    def fault(line: SpoiltLine, near: socket.socket, request: bytes) -> None:
        line.ask(request[:after], reset)
        break_off(near, reset)

    return fault


def reply_cut(after: int, reset: bool = False, rewritten: Callable[[Reply], Reply] = bytes) -> Fault:
    """The server does its work, the device gets so many bytes of the reply."""

    def fault(line: SpoiltLine, near: socket.socket, request: bytes) -> None:
        near.sendall(rewritten(line.ask(request))[:after])
        break_off(near, reset)

    return fault


def said(words: Reply) -> Fault:
    """Somebody on the way answers; the server hears nothing."""
    return lambda _line, near, _request: near.sendall(words)


def silent(after_the_commit: bool) -> Fault:
    """Nothing comes back until the device gives up; the server heard of it, or did not."""

    def fault(line: SpoiltLine, near: socket.socket, request: bytes) -> None:
        if after_the_commit:
            line.ask(request)
        near.settimeout(PATIENCE)
        near.recv(1)

    return fault


def twice(line: SpoiltLine, near: socket.socket, request: bytes) -> None:
    """Delivered twice, one after the other; the device gets the second answer."""
    line.ask(request)
    near.sendall(line.ask(request))


def twice_at_once(line: SpoiltLine, near: socket.socket, request: bytes) -> None:
    """Delivered twice at the same time; the device gets either answer."""
    with ThreadPoolExecutor(2) as pool:
        replies = list(pool.map(line.ask, [request, request]))
    assert all(reply.startswith(b"HTTP/1.1 200 ") for reply in replies), replies
    near.sendall(replies[0])
