"""An entry in a title and a few words, for somebody who decides whether it is taken into the record."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any

from sync.shapes import is_uuid
from webapp.clinical import client_card, data, derive_facts, described_kinds, field_choices, measures
from webapp.clinical.days import is_day, say_day
from webapp.clinical.wording import summary_of, unit_label
from webapp.schemas.check import check_entry

TITLES = {
    "details": "Details", "contact": "Contact", "precaution": "Precaution", "target": "Own target",
    "visit_planned": "Planned visit", "visit_started": "Visit begun", "visit_conclusion": "Conclusion",
    "visit_finished": "Visit finished", "note": "Note",
}  # fmt: skip
LONGEST = 400
# By the reason why something stands aside: what it is, and what to think of before it is taken.
REASONS = {
    "device_revoked": (
        "Handed in by a withdrawn device",
        "Ask the person whether this is theirs: whoever had the device may have written it.",
    ),
    "put_aside": (
        "Lost in a restore, handed back",
        "These are as they were recorded. They stand here because whoever handed them back may not see the "
        "client now, or because the restored service does not know the client or the colleague.",
    ),
    "unproved": (
        "Handed back without proof",
        "Nothing shows that these are as they were recorded. Ask whoever recorded them before you take them.",
    ),
}
Body = Mapping[str, Any]


def client_name(entries: Sequence[Body], now: datetime) -> str:
    """What a client is called, as far as the record says."""
    card = client_card([dict(entry) for entry in entries], now.date().isoformat())
    return str(card["preferred_name"] or card["name"] or "a client without a name")


def title(entry: Body) -> str:
    """What an entry is."""
    kind = str(entry.get("kind"))
    known = (measures.get(kind) or described_kinds().get(kind) or {}).get("title") or TITLES.get(kind)
    what = known or "Of a kind that this server does not know"
    if entry.get("voids"):
        return f"{what}, taken back"
    return f"{what}, corrected" if entry.get("amends") else what


def content(entry: Body, now: datetime) -> str:
    """What it says, in short and line by line; of one that is not sound, what is wrong with it."""
    problem = check_entry(entry, str(entry.get("author")), now)
    if problem is not None:
        return f"Not sound as it stands: {problem.message}"
    kind, body = entry["kind"], entry["body"]
    if kind not in measures or entry["voids"]:
        said = "\n".join(_told(body, _fields(kind)))
    elif body.get("not_measured"):
        said = "Not measured"
    else:
        said = summary_of(measures[kind], derive_facts(kind, body, {}))
    why = f"Because: {entry['reason']}" if entry["reason"] else ""
    return _short("\n".join(filter(None, (said, why)))) or "Nothing further is said."


def _short(text: str) -> str:
    return text if len(text) <= LONGEST else text[:LONGEST].rstrip() + " …"


def _fields(kind: str) -> dict[str, Body]:
    return {field["id"]: field for field in described_kinds().get(kind, {}).get("fields", ())}


def _told(body: Body, fields: Mapping[str, Body]) -> Iterator[str]:
    """Each value with what it is called; not the numbers by which entries name one another."""
    places = {own: place for place, own in enumerate(fields)}
    for key in sorted(body, key=lambda each: places.get(each, len(places))):
        value = body[key]
        if key == "seen" or value in (None, "", [], {}):
            continue
        field = fields.get(key, {})
        if key in ("set", "fields") and isinstance(value, dict):
            yield from _told(value, fields)
        elif words := _words(value, field):
            yield words if key == "text" else f"{_label(key, field)} {words}"


def _label(key: str, field: Body) -> str:
    label = str(field.get("label") or key.replace("_", " ").capitalize())
    return label if label.endswith("?") else f"{label}:"


def _words(value: Any, field: Body) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(filter(None, (_words(each, field) for each in value)))
    if isinstance(value, dict) and value.keys() == {"value", "unit"}:
        return f"{value['value']} {unit_label(value['unit'])}"
    if isinstance(value, dict):
        return ", ".join(filter(None, (_words(each, field) for each in value.values())))
    if is_day(value):
        return say_day(value)
    return "" if is_uuid(value) else str(_choices(field).get(value, value))


def _choices(field: Body) -> dict[str, str]:
    if field.get("type") == "activity_code":
        return {each["code"]: each["label"] for each in data()["activities"]["codes"]}
    listed = field_choices(field) if "choices" in field or "choices_of" in field else ()
    return {each["id"]: each["label"] for each in listed}
