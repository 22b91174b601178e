"""The calls that vectors name, in Python; tests/javascript/clinical/calls.mjs is the twin."""

from typing import Any

from webapp import clinical

Given = dict[str, Any]
# Facts of a care of which nothing is known: a vector names only what it is about.
NO_FACTS = {
    "visits": [], "planned": [], "done": [], "reviews": {}, "written": {"care_period.starts_on": []},
    "pauses": [], "discharges": [], "put_off": [], "own_rules": [], "client_rules": {}, "changes": [],
}  # fmt: skip


def answer(call: str, given: Given) -> Given:
    """What the clinical core answers to a call, as plain data."""
    return CALLS[call](given)


def _convert(given: Given) -> Given:
    try:
        return {"value": clinical.convert(given["value"], given["from"], given["to"])}
    except ValueError:
        return {"refused": True}


def _day_in(given: Given) -> Given:
    try:
        return {"day": clinical.day_in(given["moment"], given["zone"])}
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
    "attainment_score": lambda given: {"score": clinical.attainment_score(given["parts"])},
    "told_score": lambda given: {"told": clinical.told_score(given["score"])},
    "goal_problems": lambda given: {"problems": clinical.goal_problems(given["fields"])},
    "goals_overview": lambda given: clinical.goals_overview(given["entries"], given["visit"]),
    "ramp": lambda given: {"ramp": clinical.ramp(given["rise"], given["unit"])},
    "place_findings": lambda given: {"findings": clinical.place_findings(given["fields"])},
    "seat_finding": lambda given: clinical.seat_finding(given["name"], given["seat"], given["leg"]),
    "qualifier_of": lambda given: {"qualifier": clinical.qualifier_of(given["percent"])},
    "compare_ratings": lambda given: {"change": clinical.compare_ratings(given["before"], given["now"])},
    "daily_life": lambda given: clinical.daily_life(given["entries"], given["visit"]),
    "check_described": lambda given: {
        "problems": clinical.check_described(given["kind"], given["body"], given["today"])
    },
    "described_items": lambda given: {"items": clinical.described_items(given["entries"], given["kind"])},
    "changed_readings": lambda given: {
        "changed": clinical.changed_readings(given["bodies"], given["context"]),
        "any": clinical.has_changed(given["bodies"], given["context"]),
    },
    "day_in": _day_in,
    "due_items": lambda given: clinical.due_items(
        NO_FACTS | given["facts"], given["calendar"], given.get("service")
    ),
    "reassessment_due": lambda given: clinical.reassessment_due(
        given["entries"], given["calendar"], given.get("service")
    ),
    "preview_dates": lambda given: {
        "dates": clinical.preview_dates(given["rule"], given["start"], given["calendar"], given["count"])
    },
    "check_rule": lambda given: {"problems": clinical.check_rule(given["rule"])},
}
