"""Weaknesses that programs can find: bandit over the server's code, and packages with a known fault.

The second needs somebody to ask. Where nobody answers the test is skipped with what was asked and answered:
a skip is never a pass, and CI prints it (`-ra`).
"""

import json
import os
import subprocess
import sys
import tomllib
from collections import Counter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
CODE = ("webapp", "sync", "demo_home_visits")
SETTINGS = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]


def bandit(*paths: str) -> list[tuple[str, str]]:
    """What bandit finds: file, code of the finding."""
    done = subprocess.run(
        [sys.executable, "-m", "bandit", "--quiet", "--configfile", str(ROOT / "pyproject.toml"), "--format",
         "json", "--recursive", *paths],
        cwd=ROOT, capture_output=True, text=True,
    )  # fmt: skip
    told = json.loads(done.stdout)
    assert told["errors"] == []
    return [(each["filename"].removeprefix("./"), each["test_id"]) for each in told["results"]]


def test_bandit_finds_only_what_was_looked_at():
    looked_at = {name: count for name, (count, reason) in SETTINGS["lintel"]["looked_at"].items() if reason}
    assert dict(Counter(" ".join(found) for found in bandit(*CODE))) == looked_at


def test_bandit_would_find_a_weakness(tmp_path):
    (tmp_path / "weak.py").write_text(
        "import pickle, subprocess\npickle.loads(b'')\nsubprocess.run('ls', shell=True)\n", encoding="utf-8"
    )
    assert {code for _, code in bandit(str(tmp_path))} >= {"B301", "B602"}


def test_the_installed_packages_fit_together():
    done = subprocess.run([sys.executable, "-m", "pip", "check"], capture_output=True, text=True)
    assert done.returncode == 0, done.stdout


def test_no_browser_package_has_a_known_fault():
    """What is shipped to phones; tools of the build and of the tests are left out."""
    told = npm_audit()
    if "metadata" not in told:
        pytest.skip(f"nobody could be asked about the browser packages: {why_not(told)}")
    assert told["metadata"]["vulnerabilities"]["total"] == 0, json.dumps(told["vulnerabilities"], indent=1)


def npm_audit() -> dict:
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    done = subprocess.run(
        ["npm", "audit", "--omit=dev", "--json", "--fetch-retries=0", "--fetch-timeout=10000"],
        cwd=ROOT / "static", capture_output=True, text=True,
        env=os.environ | {"PATH": path}, timeout=120,
    )  # fmt: skip
    start = done.stdout.find("{")
    return json.loads(done.stdout[start:]) if start >= 0 else {"message": done.stderr.strip()[-200:]}


def why_not(told: dict) -> str:
    """npm's own words without the address it asked."""
    message = str(told.get("message") or told.get("error", {}).get("summary") or "no answer")
    return message.split(" - ")[0][:120]


def test_no_python_package_has_a_known_fault():
    """One question a package goes out, so only where it is asked for and pip-audit is installed."""
    if os.environ.get("LINTEL_TEST_ASK_ADVISORIES") != "1":
        pytest.skip("nobody was asked about the Python packages: set LINTEL_TEST_ASK_ADVISORIES=1 for that")
    options = ["--format", "json", "--progress-spinner", "off", "--skip-editable"]
    done = subprocess.run(
        [sys.executable, "-m", "pip_audit", *options], capture_output=True, text=True, timeout=600
    )
    assert done.stdout.startswith("{"), f"pip-audit could not ask: {done.stderr.strip()[-200:]}"
    assert faults_in(json.loads(done.stdout)) == []


def faults_in(told: dict) -> list[str]:
    return [f"{one['name']}: {each['id']}" for one in told["dependencies"] for each in one.get("vulns", ())]


def test_a_fault_would_be_read_from_what_pip_audit_tells():
    weak, sound = {"name": "a", "version": "1", "vulns": [{"id": "X-1"}]}, {"name": "b", "vulns": []}
    told = {"dependencies": [weak, sound]}
    assert faults_in(told) == ["a: X-1"]


def test_why_nobody_was_asked_is_said():
    assert why_not({"message": "405 Method Not Allowed - POST somewhere"}) == "405 Method Not Allowed"
    assert why_not({}) == "no answer"
