"""FAULTS.md names tests that exist, and every fault once."""

import ast
import re
from pathlib import Path

import pytest

TESTS = Path(__file__).resolve().parents[1]
TEXT = (Path(__file__).parent / "FAULTS.md").read_text("utf-8")
NAMED = re.findall(r"`((?:browser|javascript|sync|vectors|webapp)/[\w./-]+)(?:::([^`]+))?`", TEXT)


def functions_of(path: Path) -> set[str]:
    tree = ast.parse(path.read_text("utf-8"))
    return {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)}


@pytest.mark.parametrize(("file", "name"), NAMED, ids=lambda part: part[:60])
def test_what_is_named_is_there(file: str, name: str):
    path = TESTS / file
    assert path.exists()
    if name:
        known = functions_of(path) if path.suffix == ".py" else path.read_text("utf-8")
        assert name in known


def test_every_fault_has_one_row():
    assert [int(number) for number in re.findall(r"^\| (\d+) \|", TEXT, re.MULTILINE)] == list(range(1, 92))


def test_every_row_names_a_test_or_another_row_or_says_that_there_is_none():
    rows = [line for line in TEXT.splitlines() if re.match(r"\| \d+ \|", line)]
    assert [line for line in rows if "`" not in line and " as " not in line and "row" not in line] == []
