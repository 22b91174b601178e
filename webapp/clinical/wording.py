"""Sentences from the data, with facts filled in."""

import re
from collections.abc import Mapping
from typing import Any

from .load import data

_PLACE = re.compile(r"\{(\w+)\}")
NOT_RECORDED = "not recorded"
_ASKED = {"number": "required_number", "choice": "required_choice", "choices": "required_one"}


def fill(template: str, values: Mapping[str, str]) -> str:
    """The template with every {name} replaced; a missing one says so."""
    return _PLACE.sub(lambda match: values.get(match[1], NOT_RECORDED), template)


def message(code: str, **values: str) -> str:
    """The sentence of an error or a question."""
    return fill(data()["messages"][code], values)


def ask_for(field: Mapping[str, Any]) -> str:
    """The sentence that asks for a field left empty: its own, or one for its kind."""
    if "ask" in field:
        return str(field["ask"])
    return message(_ASKED.get(field["type"], "required"), label=field["label"])


def fact_words(measure: dict[str, Any], facts: Mapping[str, Any]) -> dict[str, str]:
    """Each fact as words: choices by their labels, flags as yes and no."""
    return {name: _words(measure, name, value) for name, value in facts.items() if value is not None}


def summary_of(measure: dict[str, Any], facts: Mapping[str, Any]) -> str:
    """The reading in one line: the first of the measure's summaries whose facts are all there."""
    whole = (each for each in measure.get("summaries", ()) if facts.keys() >= set(each["needs"]))
    template = next((each["text"] for each in whole), measure["summary"])
    return fill(template, fact_words(measure, facts))


def fact_label(measure: dict[str, Any], name: str) -> str:
    """What a fact is called on a screen."""
    if name in measure["facts"]:
        return str(measure["facts"][name]["label"])
    return str(next(field["label"] for field in measure["fields"] if field["id"] == name))


def unit_label(code: str) -> str:
    """How a unit is written."""
    return str(data()["units"][code]["label"])


def unit_words(code: str) -> str:
    """How a unit is said in a sentence: "a minute" rather than "/min"."""
    return str(data()["units"][code].get("spoken", unit_label(code)))


def unit_apart(code: str, difference: str) -> str:
    """How a difference in a unit is said: "5 points below", not "5 % below"."""
    apart = data()["units"][code].get("apart")
    if apart is None:
        return unit_words(code)
    return str(apart["one" if difference == "1" else "more"])


def listed(labels: list[str], told: int) -> str:
    """The first few of a list, and how many more there are."""
    more = message("and_more", count=str(len(labels) - told)) if len(labels) > told else ""
    return ", ".join(labels[:told]) + more


def choices_of(measure: dict[str, Any], path: str) -> list[dict[str, Any]]:
    """The choices of a field, "readings.arm" for one inside a series, "technique" or "moments" for those."""
    if path == "technique":
        return [{"id": step["id"], "label": step.get("short", step["text"])} for step in measure["technique"]]
    if path == "moments":
        return [{"id": each["id"], "label": each["when"]} for each in measure["moments"]]
    fields = measure["fields"]
    for step in path.split("."):
        field = next((item for item in fields if item["id"] == step), {})
        fields = field.get("item", [])
    return list(field.get("choices", []))


def _words(measure: dict[str, Any], name: str, value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    fact = measure["facts"].get(name, {})
    path = fact.get("choices_of", name)
    labels = {choice["id"]: choice["label"].lower() for choice in choices_of(measure, path)}
    if isinstance(value, list):
        return listed([labels.get(item, str(item)) for item in value], fact.get("told", len(value)))
    return labels.get(value, str(value))
