"""A loopback line between browser and server that a test may break: cut, silent, or answering by itself."""

import contextlib
import socket
import struct
import threading
from collections.abc import Callable
from dataclasses import dataclass, field

from tests.browser.live_server import free_port

SYNC = b"POST /api/v1/sync "
RESET = struct.pack("ii", 1, 0)


@dataclass(frozen=True)
class Cut:
    """Where the line breaks: in the "request" or "reply", its "head" or "body", after this share of it."""

    message: str
    part: str
    share: float
    reset: bool = True

    def after(self, message: bytes) -> int:
        """How many bytes of a message still pass."""
        head = message.index(b"\r\n\r\n") + 4
        if self.part == "head":
            return min(int(head * self.share), head - 1)
        return head + min(int((len(message) - head) * self.share), len(message) - head - 1)


@dataclass
class Line:
    """Passes each connection on to the server; what is set here is done to the next sync request."""

    server_port: int
    port: int = field(default_factory=free_port)
    cut: Cut | None = None
    spoil: Callable[[bytes], bytes] | None = None  # done to the next request
    rewrite: Callable[[bytes], bytes] | None = None  # done to the next reply, before it is cut
    limit: int | None = None  # a proxy refuses longer bodies, for as long as it is set
    passed: list[bytes] = field(default_factory=list)  # the sync requests that reached the server whole
    reply: bytes = b""  # the last reply, before anything was done to it
    answer: bytes | None = None  # said in the server's place, for as long as it is set
    silent: threading.Event = field(default_factory=threading.Event)  # set: nothing is said any more
    held: threading.Event = field(default_factory=threading.Event)  # the line holds a message back now
    hold: str | None = None  # "request" or "reply": held back until `go` is set
    go: threading.Event = field(default_factory=threading.Event)

    def start(self) -> "Line":
        """Begin to listen."""
        self.listener = socket.create_server(("127.0.0.1", self.port), backlog=64)
        threading.Thread(target=self._listen, daemon=True).start()
        return self

    def stop(self) -> None:
        """Let everything go that is held, and listen no more."""
        self.go.set()
        with contextlib.suppress(OSError):
            self.listener.shutdown(socket.SHUT_RDWR)
        self.listener.close()

    def hold_next(self, message: str) -> None:
        """Hold the next sync request, or its reply, back until `let_go`."""
        self.held.clear()
        self.go.clear()
        self.hold = message

    def let_go(self) -> None:
        self.go.set()

    def _listen(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                near, _ = self.listener.accept()
                threading.Thread(target=self._serve, args=(near,), daemon=True).start()

    def _serve(self, near: socket.socket) -> None:
        with near, contextlib.suppress(OSError):
            request = read_request(near)
            if not request:
                return
            if request.startswith(SYNC):
                self._pass_sync(near, request)
            else:
                near.sendall(self._ask(request))

    def _pass_sync(self, near: socket.socket, request: bytes) -> None:
        cut, self.cut = self.cut, None
        hold, self.hold = self.hold, None
        if self.silent.is_set():
            near.settimeout(120)
            near.recv(1)  # until the browser gives up
            return
        if self.answer is not None:
            near.sendall(self.answer)
            return
        if self.limit is not None and len(body_of(request)) > self.limit:
            near.sendall(answer("413 Too Large", "<h1>Too large</h1>"))
            return
        self._wait(hold == "request")
        if cut and cut.message == "request":
            self._ask(request[: cut.after(request)])
            break_off(near, cut.reset)
            return
        self._answer(near, request, cut, hold)

    def _answer(self, near: socket.socket, request: bytes, cut: Cut | None, hold: str | None) -> None:
        spoil, self.spoil = self.spoil, None
        rewrite, self.rewrite = self.rewrite, None
        self.passed.append(request)
        self.reply = reply = self._ask(spoil(request) if spoil else request)
        self._wait(hold == "reply")
        reply = rewrite(reply) if rewrite else reply
        near.sendall(reply[: cut.after(reply)] if cut else reply)
        if cut:
            break_off(near, cut.reset)

    def _wait(self, held: bool) -> None:
        if held:
            self.held.set()
            self.go.wait(120)

    def _ask(self, request: bytes) -> bytes:
        return ask(self.server_port, request)


def ask(server_port: int, request: bytes, reset: bool = False, patience: float = 120) -> bytes:
    """Everything the server says to these bytes, after which nothing more comes; a `reset` waits not."""
    with socket.create_connection(("127.0.0.1", server_port)) as far:
        far.settimeout(patience)
        far.sendall(request)
        if reset:
            far.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, RESET)
            return b""
        far.shutdown(socket.SHUT_WR)
        return b"".join(iter(lambda: far.recv(65536), b""))


def read_request(near: socket.socket) -> bytes:
    """One whole request: its head, and as much body as the head says."""
    data = b""
    while b"\r\n\r\n" not in data:
        if not (more := near.recv(65536)):
            return b""
        data += more
    head, _, body = data.partition(b"\r\n\r\n")
    length = next(
        (int(line[15:]) for line in head.split(b"\r\n") if line.lower().startswith(b"content-length:")), 0
    )
    while len(body) < length and (more := near.recv(65536)):
        body += more
    return head + b"\r\n\r\n" + body


def body_of(message: bytes) -> bytes:
    return message.partition(b"\r\n\r\n")[2]


def without_length(message: bytes) -> bytes:
    """A reply as a proxy gives it that ends a body by closing the line."""
    head, _, body = message.partition(b"\r\n\r\n")
    lines = [line for line in head.split(b"\r\n") if not line.lower().startswith(b"content-length:")]
    return b"\r\n".join(lines) + b"\r\n\r\n" + body


def in_chunks(message: bytes) -> bytes:
    """A reply as a proxy gives it that sends a body in pieces."""
    head, _, body = without_length(message).partition(b"\r\n\r\n")
    pieces = [body[place : place + 100] for place in range(0, len(body), 100)]
    chunks = b"".join(b"%x\r\n%s\r\n" % (len(piece), piece) for piece in pieces)
    return head + b"\r\nTransfer-Encoding: chunked\r\n\r\n" + chunks + b"0\r\n\r\n"


def with_body(message: bytes, body: bytes) -> bytes:
    """The message with another body, and a length that fits it."""
    head = without_length(message).partition(b"\r\n\r\n")[0]
    return head + b"\r\nContent-Length: %d\r\n\r\n" % len(body) + body


def break_off(near: socket.socket, reset: bool) -> None:
    """Reset, as a lost network does; otherwise close cleanly, as a proxy that gave up does."""
    if reset:
        near.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, RESET)


def answer(status: str, body: str, *headers: str, kind: str = "text/html") -> bytes:
    """A whole reply as some machine on the way would give it."""
    data = body.encode()
    lines = [
        f"HTTP/1.1 {status}",
        f"Content-Type: {kind}",
        f"Content-Length: {len(data)}",
        "Connection: close",
    ]
    return "\r\n".join([*lines, *headers, "", ""]).encode() + data
