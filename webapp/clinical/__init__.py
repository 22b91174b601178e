"""The clinical core: reads static/clinical, checks readings, judges them, states a conclusion.

Pure: the standard library only, no clock, no input or output but reading the data.
Every function has its twin in static/clinical, and the vectors in tests/vectors/clinical bind both.
"""

from .baseline import baseline
from .card import client_card, context_for
from .checks import check_reading
from .conclude import conclude
from .cuffs import cuff_for
from .daily_life import compare_ratings, daily_life, qualifier_of
from .days import day_in, plus_days, say_day
from .described import check_described, described_items, described_kinds, field_choices, observations_by_item
from .early_warning import early_warning
from .expressions import evaluate
from .facts import derive_facts, scope_for, shown_fields
from .figure import figure
from .goals import attainment_score, goal_problems, goals_overview, told_score
from .home import place_findings, ramp, seat_finding
from .judge import judge_reading, judge_visit
from .load import data
from .normalise import normalise_body
from .parse import is_canonical, parse_number
from .plan import changed_readings, has_changed
from .preview import preview_dates
from .quick_check import quick_check
from .reassessment import due_items, reassessment_due, reassessment_facts
from .record import resolve_entries
from .rules import check_rule, known_rules
from .sections import counting
from .units import convert

measures = data()["measures"]
measure_order = data()["index"]["measures"]


def data_version() -> str:
    """The version of the clinical data, which every judgement names."""
    return data()["index"]["data_version"]


__all__ = [
    "attainment_score",
    "baseline",
    "changed_readings",
    "check_described",
    "check_reading",
    "check_rule",
    "client_card",
    "compare_ratings",
    "conclude",
    "context_for",
    "convert",
    "counting",
    "cuff_for",
    "daily_life",
    "data",
    "data_version",
    "day_in",
    "derive_facts",
    "described_items",
    "described_kinds",
    "due_items",
    "early_warning",
    "evaluate",
    "field_choices",
    "figure",
    "goal_problems",
    "goals_overview",
    "has_changed",
    "is_canonical",
    "judge_reading",
    "judge_visit",
    "known_rules",
    "measure_order",
    "measures",
    "normalise_body",
    "observations_by_item",
    "parse_number",
    "place_findings",
    "plus_days",
    "preview_dates",
    "quick_check",
    "qualifier_of",
    "ramp",
    "reassessment_due",
    "reassessment_facts",
    "resolve_entries",
    "say_day",
    "scope_for",
    "seat_finding",
    "shown_fields",
    "told_score",
]
