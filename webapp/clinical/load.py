"""Reads the clinical data once and refuses data that does not hold together."""

import json
from functools import cache
from pathlib import Path
from typing import Any

from .spread import spread
from .validate import check_data

FOLDER = Path(__file__).resolve().parents[2] / "static" / "clinical"


def read_data(folder: Path = FOLDER) -> dict[str, Any]:
    """All clinical files as one dictionary, unchecked."""
    index = _read(folder / "index.json")
    data = {name: _read(folder / f"{name}.json") for name in index["files"]}
    data["index"] = index
    files = {name: folder / "measures" / f"{name}.json" for name in index["measures"]}
    data["measures"] = {name: spread(_read(path)) for name, path in files.items()}
    return data


@cache
def data() -> dict[str, Any]:
    """The checked clinical data."""
    loaded = read_data()
    check_data(loaded)
    return loaded


def _read(path: Path) -> Any:
    return json.loads(path.read_text(encoding="utf-8"))
