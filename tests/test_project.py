"""The shape of the project: what lies where, how long files are, what is never in them, true documents."""

import ast
import re
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "pyproject.toml", "webapp", "static", "sync", "tests", "demo_home_visits",
}  # fmt: skip
CODE = {".py", ".js", ".mjs"}
LONGEST_FILE = 300
FUNCTION_LINES_P90 = 20
# Written in pieces so that this file does not contain what it forbids.
REGISTRY_HOSTS = tuple(
    "".join(name) + "." + end
    for name, end in (
        (("np", "mjs"), "org"),
        (("np", "mjs"), "com"),
        (("python", "hosted"), "org"),
        (("py", "pi"), "org"),
        (("yarn", "pkg"), "com"),
    )
)
MACHINE_PATH = re.compile(r"(?<![\w.~/-])/(?:wo" + r"rk|ro" + r"ot|ho" + r"me/\w+|Us" + r"ers/\w+)/\w")
BEFORE_THE_ENVIRONMENT = {
    "demo_home_visits/private_environment.py", "demo_home_visits/setup_words.py", "tests/system_programs.py",
}  # fmt: skip
STARTERS = ("demo_home_visits/__main__.py", "tests/__main__.py")


@cache
def project_files() -> tuple[str, ...]:
    """Return every file that is, or would be, in the repository."""
    listing = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT, capture_output=True, check=True,
    )  # fmt: skip
    names = listing.stdout.decode().split("\0")
    return tuple(sorted({name for name in names if name and (ROOT / name).is_file()}))


def text_of(name: str) -> str | None:
    """Return a file's text, None for pictures and the like."""
    data = (ROOT / name).read_bytes()
    return None if b"\0" in data else data.decode("utf-8")


def code_files() -> list[str]:
    return [name for name in project_files() if Path(name).suffix in CODE]


def python_files() -> list[str]:
    return [name for name in project_files() if name.endswith(".py")]


def test_the_top_level_holds_the_rooms_and_nothing_else():
    top = {name.split("/")[0] for name in project_files()}
    assert {name for name in top if not name.startswith(".")} == TOP_LEVEL


def test_no_file_names_a_package_registry_or_a_machine_path():
    found = []
    for name in project_files():
        text = text_of(name) or ""
        found += [f"{name}: {host}" for host in REGISTRY_HOSTS if host in text]
        found += [f"{name}: {match.group()}" for match in MACHINE_PATH.finditer(text)]
    assert found == []


def test_a_machine_path_would_be_found():
    assert MACHINE_PATH.search("see /wo" + "rk/main") and MACHINE_PATH.search('"/ho' + 'me/ann/x"')
    assert not MACHINE_PATH.search("https://example.org/wo" + "rk/main")


def test_the_lock_file_says_what_but_not_from_where():
    lock = text_of("static/package-lock.json")
    assert '"integrity"' in lock and '"resolved"' not in lock


def test_code_files_are_short():
    lengths = {name: len(text_of(name).splitlines()) for name in code_files()}
    assert {name: lines for name, lines in lengths.items() if lines > LONGEST_FILE} == {}


def test_nine_functions_in_ten_are_short():
    lengths = sorted(lines for name in python_files() for lines in function_lengths(text_of(name)))
    assert lengths[len(lengths) * 9 // 10] <= FUNCTION_LINES_P90


def function_lengths(source: str) -> list[int]:
    """Return the length of each function without its docstring."""
    functions = (node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.FunctionDef))
    return [node.end_lineno - first_line(node) + 1 for node in functions]


def first_line(node: ast.FunctionDef) -> int:
    has_words = ast.get_docstring(node) is not None and len(node.body) > 1
    return node.body[1].lineno if has_words else node.lineno


def test_ruff_finds_nothing():
    done = subprocess.run(
        [sys.executable, "-m", "ruff", "check", "--quiet", "."], cwd=ROOT, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stdout


@pytest.mark.parametrize("name", STARTERS)
def test_a_starter_needs_only_the_standard_library_until_the_environment_stands(name):
    before = text_of(name).split("private_environment.enter(")[0]
    allowed = sys.stdlib_module_names | {"demo_home_visits"}
    assert {module.split(".")[0] for module in imported(before)} <= allowed


@pytest.mark.parametrize("name", sorted(BEFORE_THE_ENVIRONMENT))
def test_what_runs_before_the_environment_needs_only_the_standard_library(name):
    allowed = sys.stdlib_module_names | {"demo_home_visits"}
    assert {module.split(".")[0] for module in imported(text_of(name))} <= allowed


def imported(source: str) -> list[str]:
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            found.append(node.module)
    return found


def test_importing_the_demo_or_the_tests_runs_nothing():
    assert [text_of(f"{name}/__init__.py") for name in ("demo_home_visits", "tests")] == ["", ""]


def test_the_readme_begins_with_the_job_in_one_paragraph():
    title, paragraph, *_ = text_of("README.md").split("\n\n")
    assert title == "# Lintel"
    assert len(paragraph.split()) >= 60 and not paragraph.startswith(("#", "-", "!", "|", "`"))


def test_the_readme_gives_the_two_commands():
    for command in ("python3 -m demo_home_visits", "python3 -m tests"):
        assert command in text_of("README.md")


def test_every_path_in_the_documents_exists():
    missing = [
        f"{document}: {path}"
        for document in ("README.md", "DEVELOPERS.md")
        for path in paths_named(text_of(document))
        if not list(ROOT.glob(path)) and path not in ignored_names()
    ]
    assert missing == []


def test_every_test_named_in_the_documents_exists():
    named = re.findall(r"`(tests/[\w./-]+\.py)::(\w+)`", text_of("DEVELOPERS.md"))
    assert len(named) > 15
    assert [f"{path}::{name}" for path, name in named if f"def {name}(" not in text_of(path)] == []


def paths_named(text: str) -> list[str]:
    """Return what a document names as a path: code spans with a slash or an ending, and link targets."""
    spans = re.findall(r"`([^`\s]+)`", text) + re.findall(r"\]\(([^)#\s:]+)\)", text)
    spans += re.findall(r'src="([^"]+)"', text)
    looks = re.compile(r"^[\w.@*-]+(?:/[\w.@*-]+)*/?$")
    wanted = (span for span in spans if looks.match(span) and ("/" in span or Path(span).suffix in ENDINGS))
    return [path.rstrip("/") for path in wanted]


ENDINGS = {".py", ".js", ".mjs", ".json", ".md", ".toml", ".css", ".html", ".png"}


def ignored_names() -> set[str]:
    """Return folders that exist only after a set-up or a run; documents may speak of them."""
    ignored = text_of(".gitignore").split()
    return {name.strip("/") for name in ignored} | {
        ".lintel/screenshots",
        ".lintel/setup.log",
        "static/node_modules",
    }


def test_paths_are_recognised_in_a_document():
    text = (
        "See `sync/PROTOCOL.md`, [map](DEVELOPERS.md), `create_app`, `python3 -m tests`, `app.js` and `a/b`."
    )
    assert paths_named(text) == ["sync/PROTOCOL.md", "app.js", "a/b", "DEVELOPERS.md"]
