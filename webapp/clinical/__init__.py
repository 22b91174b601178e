"""The clinical core: reads static/clinical, checks readings, judges them, states a conclusion.

Pure: the standard library only, no clock, no input or output but reading the data.
Every function has its twin in static/clinical, and the vectors in tests/vectors/clinical bind both.
"""

from .baseline import baseline
from .card import client_card, context_for
from .checks import check_reading
from .conclude import conclude
from .cuffs import cuff_for
from .early_warning import early_warning
from .expressions import evaluate
from .facts import derive_facts, scope_for, shown_fields
from .figure import figure
from .judge import judge_reading, judge_visit
from .load import data
from .normalise import normalise_body
from .parse import parse_number
from .record import resolve_entries
from .sections import counting
from .units import convert

measures = data()["measures"]
measure_order = data()["index"]["measures"]


def data_version() -> str:
    """The version of the clinical data, which every judgement names."""
    return data()["index"]["data_version"]


__all__ = [
    "baseline",
    "check_reading",
    "client_card",
    "conclude",
    "context_for",
    "convert",
    "counting",
    "cuff_for",
    "data",
    "data_version",
    "derive_facts",
    "early_warning",
    "evaluate",
    "figure",
    "judge_reading",
    "judge_visit",
    "measure_order",
    "measures",
    "normalise_body",
    "parse_number",
    "resolve_entries",
    "scope_for",
    "shown_fields",
]
