"""Daily life: how each activity goes now, against the visit before, and the picture by chapter."""

from typing import Any

from .described import described_items, observations_by_item
from .load import data
from .record import Entry

Body = dict[str, Any]


def qualifier_of(percent: int) -> str | None:
    """The ICF qualifier of a share of difficulty in whole percent, None outside 0 to 100."""
    for each in data()["activities"]["qualifiers"]:
        band = each.get("percent")
        if band and int(band["low"]) <= percent <= int(band["high"]):
            return each["id"]
    return None


def compare_ratings(before: str | None, now: str | None) -> str | None:
    """Better, worse or the same; not comparable with 8 or 9; None when one of the two is missing."""
    if before is None or now is None:
        return None
    degrees = [each["id"] for each in data()["activities"]["qualifiers"] if "percent" in each]
    if before not in degrees or now not in degrees:
        return "not_comparable"
    steps = degrees.index(now) - degrees.index(before)
    return "better" if steps < 0 else "worse" if steps > 0 else "same"


def daily_life(entries: list[Entry], visit: str | None) -> Body:
    """{"activities": [...], "chapters": [...]} as of a visit, or with visit None as it is known last.

    An activity has its `now` and `before` (observations or None) and `change`; a chapter counts them.
    """
    ratings = observations_by_item(entries, "activity_rating")
    found = described_items(entries, "activity")
    rows = [_activity(item, ratings.get(item["item"], []), visit) for item in found]
    rows = [row for row in rows if not row["fields"].get("ended") or row["now"]]
    order = {chapter["id"]: place for place, chapter in enumerate(data()["activities"]["chapters"])}
    rows.sort(key=lambda row: order.get(row["chapter"], len(order)))
    return {"activities": rows, "chapters": _chapters(rows)}


def chapter_of(code: str | None) -> str:
    """The chapter of an activity code: its letter and first digit."""
    return (code or "")[:2]


def _activity(item: Body, ratings: list[Body], visit: str | None) -> Body:
    now, before = now_and_before(ratings, visit)
    change = compare_ratings(_difficulty(before), _difficulty(now))
    chapter = chapter_of(item["fields"].get("code"))
    return {**item, "chapter": chapter, "now": now, "before": before, "change": change}


def now_and_before(found: list[Body], visit: str | None) -> tuple[Body | None, Body | None]:
    """Of observations, oldest first, the one of the visit (or the last) and the last of an earlier visit."""
    own = [each for each in found if visit is None or each["visit"] == visit]
    now = own[-1] if own else None
    at = next(
        (place for place, each in enumerate(found) if each["visit"] == (now or {}).get("visit", visit)), None
    )
    earlier = [each for each in (found if at is None else found[:at]) if each is not now]
    return now, (earlier[-1] if earlier else None)


def _difficulty(rating: Body | None) -> str | None:
    return rating["fields"].get("difficulty") if rating else None


def _chapters(rows: list[Body]) -> list[Body]:
    found = []
    for chapter in data()["activities"]["chapters"]:
        own = [row for row in rows if row["chapter"] == chapter["id"]]
        if own:
            changes = {
                name: sum(row["change"] == name for row in own) for name in data()["activities"]["compared"]
            }
            told = {when: _counts([_difficulty(row[when]) for row in own]) for when in ("now", "before")}
            found.append(
                {"chapter": chapter["id"], "label": chapter["label"], "count": len(own), **told, **changes}
            )
    return found


def _counts(difficulties: list[str | None]) -> dict[str, int]:
    ids = [each["id"] for each in data()["activities"]["qualifiers"]]
    return {name: difficulties.count(name) for name in ids}
