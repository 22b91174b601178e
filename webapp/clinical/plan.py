"""The plan: whether the readings of a visit changed, so that the plan is looked at again."""

from typing import Any

from .baseline import baseline_findings
from .facts import derive_facts
from .load import data

Body = dict[str, Any]
CHANGES = ("changed", "lowest", "highest")


def changed_readings(bodies: dict[str, Body], context: Body) -> list[Body]:
    """The readings that stand away from the client's own baseline: [{"measure", "word", "because"}].

    Beyond the limit by which readings are known to vary; where none is published, lowest or highest so far.
    """
    found = [
        (name, _changes(name, bodies[name], context))
        for name in data()["index"]["measures"]
        if name in bodies
    ]
    return [
        {"measure": name, "word": each["word"], "because": each["because"]}
        for name, told in found
        for each in told
    ]


def has_changed(bodies: dict[str, Body], context: Body) -> bool:
    """Whether any reading of the visit changed."""
    return bool(changed_readings(bodies, context))


def _changes(name: str, body: Body, context: Body) -> list[Body]:
    measure = data()["measures"][name]
    found = baseline_findings(measure, derive_facts(name, body, context), context)
    return [each for each in found if each["rule"].rpartition(".")[2] in CHANGES]
