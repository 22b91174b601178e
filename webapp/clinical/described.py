"""What is described, not measured: its kinds and fields from the data, what stands of it, what is wrong."""

import re
from typing import Any

from .days import is_day
from .decimals import is_decimal, to_scaled
from .load import data
from .parse import parse_number
from .record import Chain, Entry, resolve_entries, resolve_fields, standing, version_roots
from .units import convert
from .wording import fill, unit_label

Body = dict[str, Any]
# What can be put off or left out: the id of a rule, with an item's own behind it where there are several.
_KEY = re.compile(r"[a-z][a-z0-9_]{0,63}(:[0-9a-z-]{1,36})?")


def described_kinds() -> dict[str, Body]:
    """The kinds by id: items that change over time, observations of one moment, single ones."""
    return data()["described"]["kinds"]


def field_choices(field: Body) -> list[Body]:
    """The choices of a field, its own or a shared list."""
    if "choices" in field:
        return field["choices"]
    lists = {**data()["goals"], **data()["described"], "qualifiers": data()["activities"]["qualifiers"]}
    return lists[field["choices_of"]]


def described_items(entries: list[Entry], kind: str) -> list[Body]:
    """The items of a kind in the order they were first recorded; one taken back is left out.

    {"item": id, "kind", "fields": {}, "seen": {}, "disagreements": [], "recorded_at", "author"}
    """
    return items_among(resolve_entries(entries), kind)


def items_among(chains: list[Chain], kind: str) -> list[Body]:
    """The same of chains that are resolved already, where many kinds are asked for."""
    own = standing(chains, kind)
    roots = version_roots(chains) if own else {}
    single = described_kinds()[kind]["shape"] == "single"
    groups: dict[str, list[Chain]] = {}
    for chain in own:
        item = kind if single else chain["entry"]["body"].get("item") or chain["root"]
        groups.setdefault(roots.get(item, item), []).append(chain)
    gone = {chain["root"] for chain in chains if chain["voided"]}
    return [_item(kind, item, group, roots) for item, group in groups.items() if item not in gone]


def _item(kind: str, item: str, chains: list[Chain], roots: dict[str, str]) -> Body:
    first = chains[0]["original"] or chains[0]["entry"]
    told = {"recorded_at": first.get("recorded_at"), "author": first.get("author")}
    return {"item": item, "kind": kind, **resolve_fields(chains, roots), **told}


def observations_by_item(entries: list[Entry], kind: str) -> dict[str | None, list[Body]]:
    """The standing observations of a kind by what they are about, oldest first.

    {item or None: [{"entry", "visit", "recorded_at", "fields"}]}
    """
    found: dict[str | None, list[Body]] = {}
    for chain in standing(resolve_entries(entries), kind):
        entry, first = chain["entry"], chain["original"] or chain["entry"]
        told = {"visit": entry.get("visit"), "recorded_at": first.get("recorded_at")}
        seen = {"entry": entry["id"], **told, "fields": entry["body"].get("fields") or {}}
        found.setdefault(entry["body"].get("about"), []).append(seen)
    return found


def check_described(kind: str, body: Body, today: str) -> list[Body]:
    """What is wrong with a body: [{"field", "code", "message"}], none when it may be recorded."""
    about = described_kinds()[kind]
    observed = about["shape"] == "observation"
    values = (body.get("fields") if observed else body.get("set")) or {}
    whole = observed or not (body.get("seen") if about["shape"] == "single" else body.get("item"))
    if not values and not whole:
        return [_problem("", "nothing", {})]
    known = {field["id"]: field for field in about["fields"]}
    strange = [_problem(name, "unknown_field", {}) for name in values if name not in {*known, "ended"}]
    wrong = [_field_problem(field, values, whole, today) for field in about["fields"]]
    ended = _ended_problem(about, values["ended"]) if "ended" in values else None
    return [*strange, *(each for each in (*wrong, ended) if each)]


def _field_problem(field: Body, values: Body, whole: bool, today: str) -> Body | None:
    value = values.get(field["id"])
    if field["id"] not in values and not whole:
        return None
    if value in (None, "", []):
        code = "required_choice" if field["type"] in ("choice", "activity_code") else "required"
        needed = field.get("required") and ("for" not in field or values.get("type") in field["for"])
        return _problem(field["id"], code, field) if needed else None
    return _CHECKS[field["type"]](field, value, today)


def _text(field: Body, value: Any, _today: str) -> Body | None:
    if not isinstance(value, str):
        return _problem(field["id"], "wrong_type", field)
    if not value.strip():
        return _problem(field["id"], "required", field)
    if len(value) > field["longest"]:
        return _problem(field["id"], "too_long", {**field, "most": str(field["longest"])})
    return None


def _choice(field: Body, value: Any, _today: str) -> Body | None:
    known = value in [choice["id"] for choice in field_choices(field)]
    return None if known else _problem(field["id"], "unknown_choice", field)


def _code(field: Body, value: Any, _today: str) -> Body | None:
    known = value in [each["code"] for each in data()["activities"]["codes"]]
    return None if known else _problem(field["id"], "unknown_code", field)


def _day(field: Body, value: Any, today: str) -> Body | None:
    if not is_day(value):
        return _problem(field["id"], "not_a_day", field)
    return _problem(field["id"], "past_day", field) if field.get("future") and value < today else None


def _count(field: Body, value: Any, _today: str) -> Body | None:
    if not isinstance(value, str) or parse_number(value, 0).get("value") != value:
        return _problem(field["id"], "not_whole", field)
    limits = {"low": str(field["low"]), "high": str(field["high"]), "unit": ""}
    return _outside(field, value, limits)


def _length(field: Body, value: Any, _today: str) -> Body | None:
    rules = data()["described"]["lengths"]
    shape = isinstance(value, dict) and set(value) == {"value", "unit"} and value["unit"] in rules["units"]
    if not shape:
        return _problem(field["id"], "wrong_type", field)
    parsed = parse_number(value["value"], rules["decimals"])
    if "error" in parsed:
        return {"field": field["id"], "code": parsed["error"], "message": parsed["message"]}
    if parsed["value"] != value["value"]:
        return _problem(field["id"], "wrong_type", field)
    limits = {end: convert(limit, "cm", value["unit"]) for end, limit in rules["impossible"].items()}
    return _outside(field, value["value"], {**limits, "unit": unit_label(value["unit"])})


def _outside(field: Body, value: str, limits: Body) -> Body | None:
    fits = is_decimal(value) and to_scaled(limits["low"]) <= to_scaled(value) <= to_scaled(limits["high"])
    return None if fits else _problem(field["id"], "impossible", {**field, **limits})


def _item_id(field: Body, value: Any, _today: str) -> Body | None:
    return None if isinstance(value, str) else _problem(field["id"], "wrong_type", field)


def _measures(field: Body, value: Any, _today: str) -> Body | None:
    known = isinstance(value, list) and all(one in data()["index"]["measures"] for one in value)
    return None if known else _problem(field["id"], "unknown_choice", field)


def _key(field: Body, value: Any, _today: str) -> Body | None:
    return None if _is_key(value) else _problem(field["id"], "unknown_choice", field)


def _rules(field: Body, value: Any, _today: str) -> Body | None:
    known = isinstance(value, list) and all(_is_key(one) for one in value)
    return None if known else _problem(field["id"], "unknown_choice", field)


def _is_key(value: Any) -> bool:
    return isinstance(value, str) and bool(_KEY.fullmatch(value))


_CHECKS = {
    "text": _text, "choice": _choice, "activity_code": _code, "day": _day, "count": _count,
    "length": _length, "item": _item_id, "measures": _measures, "key": _key, "rules": _rules,
}  # fmt: skip


def _ended_problem(about: Body, value: Any) -> Body | None:
    """`ended` is null (it goes on) or says how, on which day, and what else."""
    label = {"label": about["title"]}
    if value is None:
        return None
    if not isinstance(value, dict) or not set(value) <= {"how", "day", "note"}:
        return _problem("ended", "wrong_type", label)
    if value.get("how") not in [each["id"] for each in about.get("ends", [])]:
        return _problem("ended", "unknown_choice", label)
    if not is_day(value.get("day")):
        return _problem("ended", "not_a_day", label)
    note, most = value.get("note"), data()["described"]["ended"]["longest_note"]
    fits = note is None or (isinstance(note, str) and len(note) <= most)
    return None if fits else _problem("ended", "too_long", {**label, "most": str(most)})


def _problem(field: str, code: str, words: Body) -> Body:
    told = {name: word for name, word in words.items() if isinstance(word, str)}
    return {"field": field, "code": code, "message": fill(data()["described"]["messages"][code], told)}
