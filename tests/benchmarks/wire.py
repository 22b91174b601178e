"""A proxy on the loopback that passes bytes on unchanged and counts them, headers and bodies apart."""

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace

from tests.benchmarks.figures import Traffic

END_OF_HEAD = b"\r\n\r\n"


@dataclass
class Messages:
    """The HTTP messages in one direction of one connection, told apart as they pass."""

    count: int = 0
    bodies: int = 0
    waiting: bytes = b""
    left: int = 0  # of the body that is passing

    def feed(self, data: bytes) -> None:
        """Look at some more bytes."""
        data = self.waiting + data
        while data:
            taken = min(self.left, len(data))
            self.bodies, self.left, data = self.bodies + taken, self.left - taken, data[taken:]
            head, end, rest = data.partition(END_OF_HEAD)
            if not end:
                break
            self.count, self.left, data = self.count + 1, length_of(head), rest
        self.waiting = data


def length_of(head: bytes) -> int:
    """How long the body after a request's head is. A chunked one would need more than this proxy knows."""
    fields = dict(line.lower().split(b":", 1) for line in head.split(b"\r\n")[1:])
    if b"transfer-encoding" in fields:
        raise ValueError("a request in chunks: this proxy cannot count it")
    return int(fields.get(b"content-length", b"0"))


@dataclass
class Wire:
    """Listens on a port of its own and passes everything on to another."""

    target: int
    total: Traffic = field(default_factory=Traffic)

    def __post_init__(self) -> None:
        self._lock, self._listener = threading.Lock(), socket.create_server(("127.0.0.1", 0))
        self.port = self._listener.getsockname()[1]

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def run(self) -> None:
        """Serve until the listener is closed."""
        while True:
            try:
                near, _ = self._listener.accept()
            except OSError:
                return
            far = socket.create_connection(("127.0.0.1", self.target))
            self._count(connections=1)
            for work in (self._up, self._down):
                threading.Thread(target=work, args=(near, far), daemon=True).start()

    def close(self) -> None:
        """Take no more connections."""
        self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()

    def _up(self, near: socket.socket, far: socket.socket) -> None:
        messages = Messages()
        for data in chunks(near):
            before = replace(messages)
            messages.feed(data)
            # Counted before they are passed on, so that whoever has an answer finds its request counted.
            self._count(
                requests=messages.count - before.count, sent=len(data), bodies=messages.bodies - before.bodies
            )
            far.sendall(data)
        finish(far)

    def _down(self, near: socket.socket, far: socket.socket) -> None:
        for data in chunks(far):
            self._count(received=len(data))
            near.sendall(data)
        finish(near)

    def _count(self, **more: int) -> None:
        with self._lock:
            self.total = self.total.plus(Traffic(**more))


def chunks(source: socket.socket) -> Iterator[bytes]:
    """What comes until the other side has ended."""
    while True:
        try:
            data = source.recv(65536)
        except OSError:
            return
        if not data:
            return
        yield data


def finish(target: socket.socket) -> None:
    """Pass on that nothing more comes."""
    try:
        target.shutdown(socket.SHUT_WR)
    except OSError:
        pass  # it had ended already


@contextmanager
def counting(port: int) -> Iterator[Wire]:
    """A wire to a port, for as long as the block lasts."""
    wire = Wire(port)
    thread = threading.Thread(target=wire.run)
    thread.start()
    try:
        yield wire
    finally:
        wire.close()
        thread.join()
