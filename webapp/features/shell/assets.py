"""Names of the built browser files, read from the manifest the build leaves behind."""
import json
import re
from functools import lru_cache
from pathlib import Path

STATIC = Path(__file__).resolve().parents[3] / "static"
BUILT = STATIC / "built"
MANIFEST = BUILT / "manifest.json"
HASHED_NAME = re.compile(r"[\w.]+-[A-Z0-9]{8}\.\w+")


class NotBuilt(RuntimeError):
    """The browser files have not been built yet."""


@lru_cache(maxsize=4)
def _read_manifest(changed_at: int) -> dict[str, str]:
    return json.loads(MANIFEST.read_text("utf-8"))


def built_names() -> dict[str, str]:
    """Entry name -> hashed file name; read again whenever a build has replaced the manifest."""
    try:
        changed_at = MANIFEST.stat().st_mtime_ns
    except FileNotFoundError as missing:
        raise NotBuilt("The browser files are not built: run node static/build.mjs") from missing
    return _read_manifest(changed_at)


def asset(name: str) -> str:
    """Address of the built file for an entry such as app.js."""
    return f"/built/{built_names()[name]}"


def is_hashed(name: str) -> bool:
    """True when the name carries a hash of its content, so the file can never change."""
    return HASHED_NAME.fullmatch(name) is not None
