"""A reading in one line: its figure, with units as they were typed."""

from typing import Any

from .facts import derive_facts
from .load import data
from .wording import message, summary_of

Body = dict[str, Any]


def figure(measure_id: str, body: Body, context: Body | None = None) -> str:
    """Such as "128/76 mmHg", "98.2 °F (36.8 °C), mouth", "Dizzy, unsteady; awake"."""
    if isinstance(body.get("not_measured"), dict):
        return message("not_measured")
    measure = data()["measures"][measure_id]
    text = summary_of(measure, derive_facts(measure_id, body, context))
    return text[:1].upper() + text[1:]
