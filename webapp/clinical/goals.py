"""Goal attainment scaling: what keeps a goal from being scored, and the T-score in exact arithmetic."""

from typing import Any

from .daily_life import now_and_before
from .decimals import from_scaled, nearest_root, round_scaled, to_scaled
from .described import described_items, observations_by_item
from .load import data
from .record import Entry
from .wording import fill

Body = dict[str, Any]
PLACES = 10**6  # digits kept of the score: the same in both languages


def attainment_score(parts: list[Body]) -> str | None:
    """T to six decimals of [{"weight": whole number, "level": -2..2}]; None when nothing weighs anything.

    T = 50 + 10 S / sqrt((1 - r) Q + r W^2) with S the sum of weight times level, Q of squared weights, W of
    weights, r the expected correlation of the goals. With r in tenths all of it is whole under the root.
    """
    tenths = data()["goals"]["correlation_tenths"]
    total = sum(part["weight"] for part in parts)
    squares = sum(part["weight"] ** 2 for part in parts)
    bottom = (10 - tenths) * squares + tenths * total**2
    if bottom == 0:
        return None
    reached = sum(part["weight"] * part["level"] for part in parts)
    size = nearest_root(10 * (10 * PLACES * reached) ** 2, bottom)
    return from_scaled(50 * PLACES + (size if reached >= 0 else -size))


def told_score(score: str) -> str:
    """The score as it is told: one decimal."""
    return from_scaled(round_scaled(to_scaled(score), 1))


def goal_problems(fields: Body) -> list[Body]:
    """What is wrong with a goal's wording and numbers: [{"code", "stops", "message"}]."""
    levels = data()["goals"]["levels"]
    said = {each["label"]: _plain(fields.get(each["field"])) for each in levels}
    missing = [label for label, text in said.items() if not text]
    texts = list(said.values())
    alike = [label for label, text in said.items() if text and texts.count(text) > 1]
    found = []
    if missing:
        found.append(_problem("missing_levels", missing))
    if alike:
        found.append(_problem("overlapping_levels", alike))
    if fields.get("baseline") is None:
        found.append(_problem("no_baseline", []))
    elif int(fields["baseline"]) >= 0:
        found.append(_problem("no_room", []))
    if "0" in (fields.get("importance"), fields.get("difficulty")):
        found.append(_problem("no_weight", []))
    return found


def _plain(text: Any) -> str:
    """A text as it is compared: neither case nor spaces nor a full stop make another level."""
    return " ".join(str(text or "").split()).rstrip(".").lower()


def _problem(code: str, levels: list[str]) -> Body:
    told = data()["goals"]["problems"][code]
    words = fill(told["message"], {"levels": ", ".join(levels)})
    return {"code": code, "stops": told["stops"], "message": words}


def goals_overview(entries: list[Entry], visit: str | None) -> Body:
    """{"goals": [...], "scored": count, "weighted": bool, "baseline": T, "before": T, "now": T} of a visit.

    The scores are over the goals that can be scored and have a review; each is None where a level is missing.
    """
    reviews = observations_by_item(entries, "goal_review")
    goals = [_goal(item, reviews.get(item["item"], []), visit) for item in described_items(entries, "goal")]
    scored = [goal for goal in goals if goal["now"] and not any(each["stops"] for each in goal["problems"])]
    given = [weight for goal in scored if (weight := _weight(goal)) is not None]
    weighted = bool(scored) and len(given) == len(scored)
    levels = {
        "baseline": [goal["fields"]["baseline"] for goal in scored],
        "before": [_level(goal["before"]) for goal in scored],
        "now": [_level(goal["now"]) for goal in scored],
    }
    weights = given if weighted else [1] * len(scored)
    scores = {name: _score(weights, each) for name, each in levels.items()}
    return {"goals": goals, "scored": len(scored), "weighted": weighted, **scores}


def _goal(item: Body, reviews: list[Body], visit: str | None) -> Body:
    now, before = now_and_before(reviews, visit)
    return {**item, "now": now, "before": before, "problems": goal_problems(item["fields"])}


def _weight(goal: Body) -> int | None:
    given = [goal["fields"].get(name) for name in ("importance", "difficulty")]
    return None if None in given else int(given[0]) * int(given[1])


def _level(review: Body | None) -> str | None:
    return review["fields"].get("level") if review else None


def _score(weights: list[int], levels: list[str | None]) -> str | None:
    if not levels or None in levels:
        return None
    pairs = zip(weights, levels, strict=True)
    score = attainment_score([{"weight": weight, "level": int(level or 0)} for weight, level in pairs])
    return score and told_score(score)
