"""Reads the vectors and compares an answer with what a vector expects."""

import json
from pathlib import Path
from typing import Any, NamedTuple

FOLDER = Path(__file__).resolve().parents[1] / "vectors" / "clinical"


class Vector(NamedTuple):
    """One test of one case."""

    topic: str
    case: dict[str, Any]
    description: str
    call: str
    given: dict[str, Any]
    expected: dict[str, Any]

    @property
    def name(self) -> str:
        return f"{self.topic}: {self.case['description']}: {self.description}"


def topics() -> dict[str, list[dict[str, Any]]]:
    """The cases of every file, by topic."""
    files = sorted(path for path in FOLDER.glob("*.json") if path.name != "vector.schema.json")
    return {path.stem: json.loads(path.read_text(encoding="utf-8")) for path in files}


def all_vectors() -> list[Vector]:
    """Every test of every case of every topic."""
    return [
        Vector(topic, case, test["description"], case["call"], _given(case, test), test["expected"])
        for topic, cases in topics().items()
        for case in cases
        for test in case["tests"]
    ]


def _given(case: dict[str, Any], test: dict[str, Any]) -> dict[str, Any]:
    return case.get("given", {}) | test["with"]


def differences(expected: Any, actual: Any, path: str = "") -> list[str]:
    """Where the answer is not what was expected; None is also met by a missing key."""
    if isinstance(expected, dict) and isinstance(actual, dict):
        return [
            found
            for key, part in expected.items()
            for found in differences(part, actual.get(key), f"{path}.{key}")
        ]
    if isinstance(expected, list) and isinstance(actual, list) and len(expected) == len(actual):
        pairs = enumerate(zip(expected, actual, strict=True))
        return [found for at, (part, got) in pairs for found in differences(part, got, f"{path}[{at}]")]
    same = type(expected) is type(actual) and expected == actual
    return [] if same else [f"{path}: expected {expected!r}, got {actual!r}"]
