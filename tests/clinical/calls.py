"""The calls that vectors name, in Python; tests/javascript/clinical/calls.mjs is the twin."""

from typing import Any

from webapp import clinical

Given = dict[str, Any]


def answer(call: str, given: Given) -> Given:
    """What the clinical core answers to a call, as plain data."""
    return CALLS[call](given)


def _convert(given: Given) -> Given:
    try:
        return {"value": clinical.convert(given["value"], given["from"], given["to"])}
    except ValueError:
        return {"refused": True}


def _judge_reading(given: Given) -> Given:
    judged = clinical.judge_reading(given["measure"], given["body"], given.get("context"))
    return {**judged, "fired": {found["rule"]: found["level"] for found in judged["findings"]}}


def _conclude_visit(given: Given) -> Given:
    context = given.get("context")
    return clinical.conclude(clinical.judge_visit(given["bodies"], context), context)


def _conclude_readings(given: Given) -> Given:
    context = given.get("context")
    judged = [
        clinical.judge_reading(reading["measure"], reading["body"], context)
        | {name: reading[name] for name in ("superseded",) if name in reading}
        for reading in given["readings"]
    ]
    return clinical.conclude(judged, context)


CALLS = {
    "evaluate": lambda given: {"answer": clinical.evaluate(given["expression"], given["facts"])},
    "parse_number": lambda given: clinical.parse_number(given["text"], given["decimals"]),
    "convert": _convert,
    "cuff_for": lambda given: {"cuff": clinical.cuff_for(given["circumference"])},
    "baseline": lambda given: clinical.baseline(given["values"]),
    "check_reading": lambda given: clinical.check_reading(
        given["measure"], given["body"], given.get("context")
    ),
    "normalise_body": lambda given: clinical.normalise_body(
        given["measure"], given["body"], given.get("context")
    ),
    "shown_fields": lambda given: {"fields": clinical.shown_fields(given["measure"], given["body"])},
    "judge_reading": _judge_reading,
    "conclude_visit": _conclude_visit,
    "conclude_readings": _conclude_readings,
    "figure": lambda given: {
        "figure": clinical.figure(given["measure"], given["body"], given.get("context"))
    },
    "early_warning": lambda given: clinical.early_warning(given["bodies"], given.get("context")),
    "resolve_entries": lambda given: {"chains": clinical.resolve_entries(given["entries"])},
    "client_card": lambda given: clinical.client_card(given["entries"], given["today"]),
    "context_for": lambda given: clinical.context_for(
        given["entries"], given["visit"], given["today"], given.get("settings")
    ),
}
