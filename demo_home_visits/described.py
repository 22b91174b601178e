"""What an invented client does, wants and lives in, as entries of past visits."""

import json
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

from demo_home_visits.entry_maker import EntryMaker
from demo_home_visits.people import SCENARIO

CLIENTS = json.loads((SCENARIO / "described.json").read_text(encoding="utf-8"))["clients"]
ITEMS = ("activity", "goal", "place", "hazard", "equipment", "problem", "intervention")
RATING = ("difficulty", "help", "told_by", "help_note", "equipment")
REVIEW = ("level", "told_by")
APART = timedelta(seconds=10)

Told = tuple[str, dict[str, Any]]


class Described:
    """What is written down about one client at each visit; remembers the items it has made."""

    def __init__(self, client: str, maker: EntryMaker) -> None:
        self.about: dict[str, Any] = CLIENTS.get(client, {})
        self.maker = maker
        self.made: dict[tuple[str, str], dict[str, Any]] = {}
        self.last_date: str | None = None

    def tell(self, visit: str, number: int, moment: datetime) -> None:
        """Record what this visit has to say, one entry after the other from this moment on."""
        for kind in ITEMS:
            for item in self.about.get(kind, []):
                moment = self.begin(kind, item, visit, number, moment)
        told = [*self.observations(number), *self.planned(number, moment), *self.care(number, moment)]
        for kind, body in told:
            entry = self.maker.add(kind, moment, body, visit=visit)
            self.last_date = entry["id"] if kind == "reassessment" else self.last_date
            moment += APART

    def begin(self, kind: str, item: dict[str, Any], visit: str, number: int, moment: datetime) -> datetime:
        """Record an item that begins at this visit, or its end."""
        known = self.made.get((kind, item["key"]))
        if item["visit"] == number:
            day = {"lent_on": moment.date().isoformat()} if kind == "equipment" else {}
            refers = {name: self.made[name, key]["id"] for name, key in item.get("refers", {}).items()}
            body = {"item": None, "set": {**item["set"], **refers, **day}, "seen": {}}
            self.made[kind, item["key"]] = self.maker.add(kind, moment, body, visit=visit)
            return moment + APART
        ended = item.get("ended")
        if known and ended and ended["visit"] == number:
            end = {"how": ended["how"], "day": moment.date().isoformat(), "note": ended["note"]}
            body = {"item": known["id"], "set": {"ended": end}, "seen": {}}
            self.maker.add(kind, moment, body, visit=visit)
            return moment + APART
        return moment

    def observations(self, number: int) -> Iterator[Told]:
        """How activities go and which level of a goal is reached at this visit."""
        for kind, seen, names, many in (
            ("activity", "activity_rating", RATING, "ratings"),
            ("goal", "goal_review", REVIEW, "reviews"),
        ):
            for item in self.about.get(kind, []):
                told = item[many].get(str(number))
                if told:
                    fields = {name: value for name, value in zip(names, told, strict=True) if value}
                    yield seen, {"about": self.made[kind, item["key"]]["id"], "fields": fields}
        leg = self.about.get("lower_leg", {})
        if leg.get("visit") == number:
            length = {"value": leg["value"], "unit": leg["unit"]}
            yield "lower_leg", {"about": None, "fields": {"length": length}}

    def care(self, number: int, moment: datetime) -> Iterator[Told]:
        """How care goes in time: periods, pauses, rules of the client's own, what was put off."""
        for each in self.about.get("care", []):
            if each["visit"] == number:
                days = {name: moment + timedelta(days=ahead) for name, ahead in each["days"].items()}
                fields = each["fields"] | {name: day.date().isoformat() for name, day in days.items()}
                observed = {"about": None, "fields": fields}
                item = {"item": None, "set": fields, "seen": {}}
                yield each["kind"], observed if each["observed"] else item

    def planned(self, number: int, moment: datetime) -> Iterator[Told]:
        """When to reassess, and what became of the plan."""
        for each in self.about.get("reassessment", []):
            if each["visit"] == number:
                day = (moment + timedelta(days=each["days"])).date().isoformat()
                seen = {name: [self.last_date] for name in ("date", "reason") if self.last_date}
                yield "reassessment", {
                    "item": None, "set": {"date": day, "reason": each["reason"]}, "seen": seen
                }  # fmt: skip
        for each in self.about.get("plan_review", []):
            if each["visit"] == number:
                fields = {"outcome": each["outcome"], "why": each["why"]}
                yield "plan_review", {"about": None, "fields": fields}
