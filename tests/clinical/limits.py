"""Every numeric limit of the clinical data, found by walking it, for the checks on the vectors."""

from collections.abc import Iterator
from typing import Any, NamedTuple

from webapp.clinical import data
from webapp.clinical.decimals import SCALE, from_scaled, to_scaled

ORDERING = ("lt", "le", "gt", "ge", "between")


class Limit(NamedTuple):
    """One number in one expression; `arguments[place]` is where it stands."""

    owner: str
    fact: str
    arguments: list[Any]
    place: int

    @property
    def value(self) -> str:
        return self.arguments[self.place]

    @property
    def name(self) -> str:
        return f"{self.owner}: {self.fact} {self.value}"


def limits_in(expression: Any, owner: str) -> Iterator[Limit]:
    """The limits of an expression."""
    if isinstance(expression, bool):
        return
    ((operator, arguments),) = expression.items()
    if operator in ("all", "any"):
        for part in arguments:
            yield from limits_in(part, owner)
    elif operator == "not":
        yield from limits_in(arguments, owner)
    elif operator in ORDERING:
        places = [place for place in range(1, len(arguments)) if isinstance(arguments[place], str)]
        yield from (Limit(owner, arguments[0], arguments, place) for place in places)


def facts_in(expression: Any) -> set[str]:
    """The facts an expression looks at."""
    if isinstance(expression, bool):
        return set()
    ((operator, arguments),) = expression.items()
    if operator in ("all", "any", "not"):
        parts = [arguments] if operator == "not" else arguments
        return set().union(*(facts_in(part) for part in parts))
    return {arguments[0]}


def rule_limits(measure_id: str) -> list[Limit]:
    """The limits in the rules of a measure."""
    rules = data()["measures"][measure_id]["rules"]
    return [limit for rule in rules for limit in limits_in(rule["when"], f"{measure_id}.{rule['id']}")]


def score_limits() -> list[Limit]:
    """The limits in the early warning table, each owned by its part."""
    table = data()["early_warning"]
    return [
        limit
        for part in table["parts"]
        for row in part["scores"]
        for limit in limits_in(row["when"], part["id"])
    ]


def step_of(measure_id: str, fact: str) -> int:
    """The smallest step of a fact, scaled."""
    return SCALE // 10 ** data()["measures"][measure_id]["facts"][fact]["decimals"]


def around(value: str, step: int) -> tuple[str, str, str]:
    """The values just below, at and just above a limit."""
    middle = to_scaled(value)
    return from_scaled(middle - step), from_scaled(middle), from_scaled(middle + step)
