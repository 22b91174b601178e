"""The sections of a visit: which of their measures count for a complete visit."""

from .load import data


def counting() -> list[str]:
    """The measures a visit is complete with, in the order of the screens."""
    needed = {section["id"] for section in data()["visit"]["sections"] if section.get("counts")}
    return [name for name, measure in data()["measures"].items() if measure["section"] in needed]
