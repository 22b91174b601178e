"""Names of the built browser files, read from the manifest the build leaves behind."""

import json
import re
from functools import lru_cache
from pathlib import Path

from flask import current_app

STATIC = Path(__file__).resolve().parents[3] / "static"
HASHED_NAME = re.compile(r"[\w.]+-[A-Z0-9]{8}\.\w+")


class NotBuilt(RuntimeError):
    """The browser files have not been built yet."""


@lru_cache(maxsize=4)
def _read_manifest(path: Path, changed_at: int) -> dict[str, str]:
    return json.loads(path.read_text("utf-8"))


def built_folder() -> Path:
    """Where the build leaves its files; the setting BUILT_FOLDER names another place."""
    return Path(current_app.config.get("BUILT_FOLDER", STATIC / "built"))


def manifest_path() -> Path:
    """The build's list of entry names and hashed file names."""
    return built_folder() / "manifest.json"


def built_names() -> dict[str, str]:
    """Entry name -> hashed file name; read again whenever a build has replaced the manifest."""
    path = manifest_path()
    try:
        changed_at = path.stat().st_mtime_ns
    except FileNotFoundError as missing:
        raise NotBuilt("The browser files are not built: run node static/build.mjs") from missing
    return _read_manifest(path, changed_at)


def asset(name: str) -> str:
    """Address of the built file for an entry such as app.js."""
    return f"/built/{built_names()[name]}"


def is_hashed(name: str) -> bool:
    """True when the name carries a hash of its content, so the file can never change."""
    return HASHED_NAME.fullmatch(name) is not None
