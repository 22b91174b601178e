"""A result against the last one: better, worse, or no more apart than measuring alone can make it."""

from typing import Any

from .decimals import from_scaled, is_decimal, to_scaled
from .expressions import evaluate
from .load import data
from .wording import fact_label, fill, unit_apart, unit_words

Body = dict[str, Any]


def last_time_findings(measure: Body, facts: Body, scope: Body, context: Body) -> list[Body]:
    """One finding for each field the data compares with the last time, when it has a value now."""
    rows: dict[str, Body] = {}
    for row in data()["last_time"]["changes"]:
        if row["measure"] == measure["id"] and evaluate(row.get("when", True), scope) is True:
            for name in row["fields"]:
                rows.setdefault(name, row)
    known = {name: row for name, row in rows.items() if is_decimal(facts.get(name))}
    return [_finding(measure, name, row, facts, context) for name, row in known.items()]


def _finding(measure: Body, name: str, row: Body, facts: Body, context: Body) -> Body:
    last = _last_value(measure["id"], name, row, facts, context)
    kind = _kind(row, facts[name], last)
    text = data()["last_time"][kind]
    return {
        "rule": f"{measure['id']}.last_time.{name}.{kind}",
        "against": "last_time",
        "level": text["level"],
        "word": text["word"],
        "because": fill(text["because"], _words(measure, name, row, facts[name], last)),
        "source": text.get("source") or row["source"],
        "plain": text["plain"],
        "field": name,
        "last": last,
    }


def _last_value(measure_id: str, name: str, row: Body, facts: Body, context: Body) -> str | None:
    """The newest earlier value got the same way: with the same aid, at the same pace."""
    history = (context.get("history") or {}).get(measure_id) or []
    alike = [old for old in history if all(old.get(each) == facts.get(each) for each in row["same"])]
    values = [old[name] for old in alike if is_decimal(old.get(name))]
    return values[-1] if values else None


def _kind(row: Body, now: str, last: str | None) -> str:
    if last is None:
        return "none"
    if "limit" not in row:
        return "difference"
    difference = to_scaled(now) - to_scaled(last)
    if abs(difference) <= to_scaled(row["limit"]):
        return "no_real_change"
    return "better" if (difference > 0) == (row["better"] == "more") else "worse"


def _words(measure: Body, name: str, row: Body, now: str, last: str | None) -> dict[str, str]:
    unit = measure["facts"][name]["unit"]
    words = {"label": fact_label(measure, name), "value": now, "unit": unit_words(unit)}
    if last is None:
        return words
    difference = to_scaled(now) - to_scaled(last)
    size = from_scaled(abs(difference))
    direction = "more" if difference > 0 else "less" if difference else "same"
    told = {"difference": size, "unit": unit_apart(unit, size), "last": last}
    compared = fill(data()["last_time"]["compared"][direction], told)
    limit = row.get("limit", "")
    return {**words, "compared": compared, "limit": limit, "limit_unit": unit_apart(unit, limit)}
