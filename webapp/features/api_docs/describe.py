"""Marking a view with what the API description says about it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar

View = TypeVar("View", bound=Callable[..., Any])


@dataclass(frozen=True)
class Operation:
    """What the description says of one route: a line, the schema it takes, the schemas it answers with."""

    summary: str
    answers: Mapping[int, str]
    takes: str | None = None
    query: Mapping[str, str] = field(default_factory=dict)


def described(summary: str, **facts: Any) -> Callable[[View], View]:
    """Mark a view; schemas are named as in the description's components."""

    def mark(view: View) -> View:
        view.operation = Operation(summary, **facts)  # type: ignore[attr-defined]
        return view

    return mark
