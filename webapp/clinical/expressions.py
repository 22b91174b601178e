"""The rule language: a few operators over facts, with three answers: True, False and None for unknown."""

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from .decimals import is_decimal, to_scaled

Answer = bool | None
Facts = Mapping[str, Any]


def evaluate(expression: Any, facts: Facts) -> Answer:
    """What the expression says about the facts; a missing fact makes it unknown."""
    if isinstance(expression, bool):
        return expression
    ((operator, arguments),) = expression.items()
    return OPERATORS[operator](arguments, facts)


def names_in(expressions: Iterable[Any]) -> set[str]:
    """The facts that some expressions look at."""
    found: set[str] = set()
    for expression in expressions:
        if isinstance(expression, bool):
            continue
        ((operator, arguments),) = expression.items()
        if operator in ("all", "any"):
            found |= names_in(arguments)
        elif operator == "not":
            found |= names_in([arguments])
        else:
            found |= {arguments[0], *(each["fact"] for each in arguments[1:] if isinstance(each, dict))}
    return found


def _all(parts: list[Any], facts: Facts) -> Answer:
    answers = [evaluate(part, facts) for part in parts]
    if False in answers:
        return False
    return None if None in answers else True


def _any(parts: list[Any], facts: Facts) -> Answer:
    answers = [evaluate(part, facts) for part in parts]
    if True in answers:
        return True
    return None if None in answers else False


def _not(part: Any, facts: Facts) -> Answer:
    answer = evaluate(part, facts)
    return None if answer is None else not answer


def _operand(value: Any, facts: Facts) -> Any:
    return facts.get(value["fact"]) if isinstance(value, dict) else value


def _eq(arguments: list[Any], facts: Facts) -> Answer:
    left, right = facts.get(arguments[0]), _operand(arguments[1], facts)
    # A type that differs says nothing: in one language true equals 1, in the other it does not.
    if left is None or type(left) is not type(right) or isinstance(left, list):
        return None
    return left == right


def _ordering(holds: Callable[[int, int], bool]) -> Callable[[list[Any], Facts], Answer]:
    def compare(arguments: list[Any], facts: Facts) -> Answer:
        left, right = facts.get(arguments[0]), _operand(arguments[1], facts)
        if not (is_decimal(left) and is_decimal(right)):
            return None
        return holds(to_scaled(left), to_scaled(right))

    return compare


def _between(arguments: list[Any], facts: Facts) -> Answer:
    fact, low, high = arguments
    return _all([{"ge": [fact, low]}, {"le": [fact, high]}], facts)


def _in(arguments: list[Any], facts: Facts) -> Answer:
    value = facts.get(arguments[0])
    return value in arguments[1] if isinstance(value, str) else None


def _has(arguments: list[Any], facts: Facts) -> Answer:
    items = facts.get(arguments[0])
    return arguments[1] in items if isinstance(items, list) else None


OPERATORS: dict[str, Callable[[Any, Facts], Answer]] = {
    "all": _all,
    "any": _any,
    "not": _not,
    "eq": _eq,
    "lt": _ordering(lambda left, right: left < right),
    "le": _ordering(lambda left, right: left <= right),
    "gt": _ordering(lambda left, right: left > right),
    "ge": _ordering(lambda left, right: left >= right),
    "between": _between,
    "in": _in,
    "has": _has,
}
