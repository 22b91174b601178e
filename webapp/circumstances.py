"""Who acts, in which request: set once at the door, read where the audit is written."""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass


@dataclass(frozen=True)
class Circumstances:
    """The id of whoever acts (None: an operator at the command line) and of the request."""

    actor: str | None = None
    request: str | None = None


NOBODY = Circumstances()
_CURRENT: ContextVar[Circumstances] = ContextVar("circumstances", default=NOBODY)


def circumstances() -> Circumstances:
    """Those of what is happening now."""
    return _CURRENT.get()


def set_circumstances(actor: str | None, request: str | None) -> None:
    """Say who acts from here on, in this thread."""
    _CURRENT.set(Circumstances(actor, request))


@contextmanager
def acting(actor: str | None) -> Iterator[None]:
    """Have somebody (None: an operator) act for a while, in the request that is going on."""
    token = _CURRENT.set(Circumstances(actor, circumstances().request))
    try:
        yield
    finally:
        _CURRENT.reset(token)
