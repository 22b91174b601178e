"""Sentences from the data, with facts filled in."""

import re
from collections.abc import Mapping
from typing import Any

from .load import data

_PLACE = re.compile(r"\{(\w+)\}")
NOT_RECORDED = "not recorded"


def fill(template: str, values: Mapping[str, str]) -> str:
    """The template with every {name} replaced; a missing one says so."""
    return _PLACE.sub(lambda match: values.get(match[1], NOT_RECORDED), template)


def message(code: str, **values: str) -> str:
    """The sentence of an error or a question."""
    return fill(data()["messages"][code], values)


def fact_words(measure: dict[str, Any], facts: Mapping[str, Any]) -> dict[str, str]:
    """Each fact as words: choices by their labels, flags as yes and no."""
    return {name: _words(measure, name, value) for name, value in facts.items() if value is not None}


def fact_label(measure: dict[str, Any], name: str) -> str:
    """What a fact is called on a screen."""
    if name in measure["facts"]:
        return str(measure["facts"][name]["label"])
    return str(next(field["label"] for field in measure["fields"] if field["id"] == name))


def unit_label(code: str) -> str:
    """How a unit is written."""
    return str(data()["units"][code]["label"])


def choices_of(measure: dict[str, Any], path: str) -> list[dict[str, Any]]:
    """The choices of a field, "readings.arm" for a field inside a series."""
    fields = measure["fields"]
    for step in path.split("."):
        field = next((item for item in fields if item["id"] == step), {})
        fields = field.get("item", [])
    return list(field.get("choices", []))


def _words(measure: dict[str, Any], name: str, value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    path = measure["facts"].get(name, {}).get("choices_of", name)
    labels = {choice["id"]: choice["label"].lower() for choice in choices_of(measure, path)}
    if isinstance(value, list):
        return ", ".join(labels.get(item, str(item)) for item in value)
    return labels.get(value, str(value))
