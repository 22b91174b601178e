"""Where a device's state is kept: a protocol, one store in memory, one in a file that survives a crash."""

import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Protocol

import msgspec

from sync.messages import Verdict
from sync.state import Receipt, State


class Store(Protocol):
    """Keeps one state whole: after `put` returns, a crash finds that state or a later one."""

    def get(self) -> State:
        """The state put last."""

    def put(self, state: State) -> None:
        """Keep a state in place of the one before."""


class MemoryStore:
    """A store for tests and for programs that do not outlive their run."""

    def __init__(self, state: State) -> None:
        self._state = state

    def get(self) -> State:
        """The state put last."""
        return self._state

    def put(self, state: State) -> None:
        """Keep a state in place of the one before."""
        self._state = state


class FileStore:
    """A store in one file, replaced as a whole: written beside it, flushed, then renamed over it."""

    def __init__(self, path: Path, state: State) -> None:
        self._path = path
        if not path.exists():
            self.put(state)

    def get(self) -> State:
        """The state put last."""
        return _state(json.loads(self._path.read_text("utf-8")))

    def put(self, state: State) -> None:
        """Keep a state in place of the one before."""
        draft = self._path.with_suffix(".new")
        with draft.open("wb") as file:
            file.write(msgspec.json.encode(state))
            file.flush()
            os.fsync(file.fileno())
        os.replace(draft, self._path)
        _flush_folder(self._path.parent)


def _state(kept: Mapping[str, Any]) -> State:
    said = {
        name: {own: Verdict(**verdict) for own, verdict in kept.get(name, {}).items()}
        for name in ("verdicts", "returned")
    }
    tuples = {name: tuple(kept.get(name, ())) for name in ("clients", "read_only", "former")}
    receipts = tuple(Receipt(**{**one, "ids": tuple(one["ids"]), "hashes": tuple(one["hashes"])})
                     for one in kept.get("receipts", ()))  # fmt: skip
    return State(**{**kept, **tuples, **said, "receipts": receipts})


def _flush_folder(folder: Path) -> None:
    # The rename itself must reach the disk; Windows has no such call on folders.
    if os.name != "nt":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
