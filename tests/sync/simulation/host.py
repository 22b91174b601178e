"""The Node process in which phones with the real engine live: one command, one answer, in JSON lines."""

import json
import os
import select
import subprocess
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[3]
HOST = "tests/javascript/phones/host.mjs"
PATIENCE = 120


class Host:
    """A Node process, for one world after another."""

    def __init__(self) -> None:
        node = Path(sys.executable).parent / "node"
        environment = os.environ | {"TZ": "UTC"}
        environment.pop("NODE_TEST_CONTEXT", None)
        self.process = subprocess.Popen(
            [str(node), str(ROOT / HOST)], cwd=ROOT, env=environment,
            stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        )  # fmt: skip

    def begin(self, broken: str = "") -> None:
        """A new world without any phones, with the browser's code whole or with a rule of it broken."""
        self.tell({"do": "begin", "phone": "", "person": "", "now": 0, "broken": broken})

    def tell(self, command: dict[str, Any]) -> Any:
        """What the process answers to a command."""
        assert self.process.stdin is not None and self.process.stdout is not None
        self.process.stdin.write(json.dumps(command).encode() + b"\n")
        self.process.stdin.flush()
        ready, _, _ = select.select([self.process.stdout], [], [], PATIENCE)
        line = self.process.stdout.readline() if ready else b""
        if not line:
            raise RuntimeError(f"no answer to {command['do']}")
        answer = json.loads(line)
        if "fault" in answer:
            raise RuntimeError(answer["fault"])
        return answer

    def end(self) -> None:
        """Ends the process: there is nothing more to read for it."""
        self.process.communicate()
