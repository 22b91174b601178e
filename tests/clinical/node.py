"""Asks the JavaScript twin: one Node process a batch of questions."""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
PROGRAM = ROOT / "tests" / "javascript" / "clinical" / "answer.mjs"


def ask_node(questions: list[tuple[str, dict[str, Any]]]) -> list[Any]:
    """The answers of static/clinical to (call, given) pairs."""
    sent = json.dumps([{"call": call, "given": given} for call, given in questions])
    node = Path(sys.executable).parent / "node"
    done = subprocess.run([node, PROGRAM], input=sent, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr[-4000:]
    return json.loads(done.stdout)
