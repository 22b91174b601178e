"""What is asked at each of several moments, written once in the data and spread out to one field a moment."""

from collections.abc import Iterator
from typing import Any

PARTS = ("fields", "checks", "rules")


def spread(measure: dict[str, Any]) -> dict[str, Any]:
    """The measure with every {"at_each", "items"} of its fields, checks and rules written out.

    In the texts of an item "{at}" becomes the moment's id and "{when}" its words. Fields come in the order
    of their groups, so that a form asks for all of one moment before the next.
    """
    if "moments" not in measure:
        return measure
    moments = {moment["id"]: moment for moment in measure["moments"]}
    written = {part: list(_spread(measure[part], moments)) for part in PARTS}
    groups = [group["id"] for group in measure["groups"]]
    written["fields"].sort(key=lambda field: groups.index(field["group"]))
    return {**measure, **written}


def _spread(items: list[Any], moments: dict[str, Any]) -> Iterator[Any]:
    for item in items:
        if "at_each" not in item:
            yield item
            continue
        for at in item["at_each"]:
            yield from (_put(part, at, moments[at]["when"]) for part in item["items"])


def _put(value: Any, at: str, when: str) -> Any:
    if isinstance(value, str):
        return value.replace("{at}", at).replace("{when}", when)
    if isinstance(value, list):
        return [_put(part, at, when) for part in value]
    if isinstance(value, dict):
        return {key: _put(part, at, when) for key, part in value.items()}
    return value
