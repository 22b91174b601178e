"""Runs the JavaScript tests under the Node that the project installs, as part of the one test command."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
FILES = sorted(HERE.rglob("*.test.mjs"))


def run_node(*arguments: str) -> subprocess.CompletedProcess[str]:
    """Run the project's Node and return what it printed."""
    node = Path(sys.executable).parent / "node"
    # Node's runner refuses to start inside another one it believes it sees.
    environment = {key: value for key, value in os.environ.items() if key != "NODE_TEST_CONTEXT"}
    return subprocess.run(
        [node, *arguments],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )


def count(report: str, word: str) -> int:
    """Return a figure of the TAP report's summary, such as `# pass 12`."""
    found = re.search(rf"^# {word} (\d+)$", report, flags=re.MULTILINE)
    assert found, f"no line '# {word}' in the report:\n{report[-2000:]}"
    return int(found[1])


def test_there_are_javascript_tests():
    assert {path.parent.name for path in FILES} >= {"clinical", "store", "sync", "views"}


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.relative_to(HERE).as_posix())
def test_javascript(path):
    done = run_node("--test", "--test-reporter=tap", str(path))
    assert done.returncode == 0, done.stdout[-6000:] + done.stderr[-2000:]
    assert count(done.stdout, "pass") > 0
    assert [count(done.stdout, word) for word in ("fail", "cancelled", "skipped", "todo")] == [0, 0, 0, 0]
