"""The story of one invented client as entries: who they are, the visits until yesterday, what is planned."""

import json
import random
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from demo_home_visits.described import Described
from demo_home_visits.entry_maker import EntryMaker, device_id, user_id
from demo_home_visits.local_time import birth_date, local_instant, on_a_weekday
from demo_home_visits.people import SCENARIO, name_of
from demo_home_visits.readings import Body, Moment, body_of, confirmed, not_measured
from webapp import clinical

WORDS = json.loads((SCENARIO / "words.json").read_text(encoding="utf-8"))
VISIT_MINUTES = 45
# When each reading of a visit is taken: first the vital signs, then what the visit offers besides.
READING_MINUTES = (5, 9, 13, 17, 21, 25, 26, 27, 28, 29, 30, 31, 32)
OFFERED_EVERY = 4
USUAL_TIME = "10:00"
DETAILS = ("name", "preferred_name", "sex", "address", "access", "phone", "language", "reason_for_referral")


@dataclass
class Story:
    """One client's entries in the making."""

    client: dict[str, Any]
    maker: EntryMaker
    today: date
    settings: dict[str, Any]
    chance: random.Random
    described: Described

    def tell(self) -> list[dict[str, Any]]:
        """Make everything recorded about the client until the end of yesterday."""
        days = visit_days(self.client, self.today)
        opened = local_instant(on_a_weekday((days[0] if days else self.today) - timedelta(days=7)), "16:00")
        self.disagree(self.introduce(opened))
        for number, day in enumerate(days):
            signs = self.event("signs", None, number - len(days))
            progress = number / max(1, len(days) - 1)
            self.visit(
                day, number - len(days), Moment(self.client, progress, number == 0, self.chance, signs)
            )
        self.plan_ahead(days)
        return self.maker.made

    def introduce(self, opened: datetime) -> dict[str, Any]:
        """Record who the client is, as the referral told it; return the entry with the details."""
        age = self.client["age"]
        details = {name: self.client[name] for name in DETAILS}
        details["birth_date"] = birth_date(self.today, age["years"], age["days"]).isoformat()
        entry = self.maker.add("details", opened, {"set": details, "seen": {}})
        for number, contact in enumerate(self.client["contacts"], 1):
            self.maker.add("contact", opened + timedelta(minutes=number), contact)
        for number, precaution in enumerate(self.client["precautions"], 5):
            self.maker.add("precaution", opened + timedelta(minutes=number), precaution)
        for number, target in enumerate(self.client["targets"], 10):
            self.maker.add("target", opened + timedelta(minutes=number), target)
        return entry

    def visit(self, day: date, number: int, moment: Moment) -> None:
        """Make one past visit; `number` counts from the last one backwards, so the last is -1."""
        clock = self.clock()
        start = local_instant(day, clock)
        visit = self.plan(day, clock, start - timedelta(days=6, minutes=-VISIT_MINUTES), moment.first)
        self.maker.add("visit_started", start, {"first": moment.first}, visit=visit)
        measures = [*clinical.counting(), *self.offered(number, moment.first)]
        readings = [
            self.reading(measure, visit, start + timedelta(minutes=minutes), number, moment)
            for measure, minutes in zip(measures, READING_MINUTES, strict=False)
        ]
        self.conclude(visit, start + timedelta(minutes=34), number, readings)
        if moment.first:
            self.maker.add("note", start + timedelta(minutes=35), {"text": WORDS["started"]}, visit=visit)
        self.described.tell(visit, number, start + timedelta(minutes=36))
        if moment.first or self.reassesses(number):
            body = {"about": None, "fields": {"scope": "whole" if moment.first else "functional"}}
            self.maker.add("reassessed", start + timedelta(minutes=40), body, visit=visit)
        note, who = moment.source.choice(WORDS["finished"]), name_of(self.client["therapist"])
        finished = {"note": note, "signed_by": who}
        self.maker.add("visit_finished", start + timedelta(minutes=VISIT_MINUTES), finished, visit=visit)

    def reassesses(self, number: int) -> bool:
        """Say whether function is reassessed at this visit: every second or third, not alike for all."""
        letters = len(self.client["key"])
        return (number + letters) % (3 if letters % 4 == 0 else 2) == 0

    def offered(self, number: int, first: bool) -> list[str]:
        """Return what this visit holds besides the vital signs: at the first, and now and then after it."""
        due = first or number % OFFERED_EVERY == 0
        return [name for name in clinical.measure_order if due and name in self.client.get("offered", ())]

    def reading(
        self, measure: str, visit: str, at: datetime, number: int, moment: Moment
    ) -> dict[str, Any]:
        """Make one reading of a visit, with what went wrong in it; return the entry that counts."""
        missed = self.event("not_measured", measure, number)
        body = not_measured(missed["reason"], missed["note"]) if missed else body_of(measure, moment)
        if amended := self.event("amend", measure, number):
            return self.amend(measure, visit, at, body, amended)
        if voided := self.event("void", measure, number):
            self.void(measure, visit, at, body, voided)
            return self.maker.add(measure, at + timedelta(minutes=2), body_of(measure, moment), visit=visit)
        return self.maker.add(measure, at, body, visit=visit)

    def amend(
        self, measure: str, visit: str, at: datetime, body: Body, event: dict[str, Any]
    ) -> dict[str, Any]:
        """Record a slip first, and its correction that same evening."""
        slip = confirmed(measure, {**body, "fields": {**body["fields"], **event["wrong"]}})
        original = self.maker.add(measure, at, slip, visit=visit)
        evening = at + timedelta(hours=3)
        return self.maker.add(
            measure, evening, body, visit=visit, amends=original["id"], reason=event["reason"]
        )

    def void(self, measure: str, visit: str, at: datetime, body: Body, event: dict[str, Any]) -> None:
        original = self.maker.add(measure, at, body, visit=visit)
        soon = at + timedelta(minutes=1)
        self.maker.add(measure, soon, {}, visit=visit, voids=original["id"], reason=event["reason"])

    def disagree(self, first: dict[str, Any]) -> None:
        """Let two people change the same detail or target, neither having seen the other's change."""
        for event in (each for each in self.client["events"] if each["event"] == "address"):
            day = on_a_weekday(self.today - timedelta(days=event["days_ago"]))
            who = {"author": user_id(event["by"]), "device": device_id(event["by"])}
            body = {"set": {"address": event["address"]}, "seen": {"address": [first["id"]]}}
            self.maker.add("details", local_instant(day, "12:40"), body, **who)
        for event in (each for each in self.client["events"] if each["event"] == "target"):
            day = on_a_weekday(self.today - timedelta(days=event["days_ago"]))
            who = {"author": user_id(event["by"]), "device": device_id(event["by"])}
            self.maker.add("target", local_instant(day, "12:45"), event["target"], **who)

    def conclude(self, visit: str, at: datetime, number: int, readings: list[dict[str, Any]]) -> None:
        """Draw the conclusion as the app would from what is recorded so far."""
        context = clinical.context_for(self.maker.made, visit, at.date().isoformat(), self.settings)
        judgements = clinical.judge_visit({each["kind"]: each["body"] for each in readings}, context)
        found = clinical.conclude(judgements, context)
        override = self.event("override", None, number)
        self.maker.add("visit_conclusion", at, {
            "suggested": found["conclusion"],
            "chosen": override["chosen"] if override else found["conclusion"],
            "reasons": [reason["rule"] for reason in found["reasons"]],
            "override_reason": override["reason"] if override else None,
            "missing": found["missing"],
            "data_version": clinical.data_version(),
        }, visit=visit)  # fmt: skip

    def plan(self, day: date, clock: str, recorded: datetime, first: bool = False) -> str:
        """Plan a visit and return its id."""
        visit = self.maker.new_id(recorded)
        purpose = WORDS["first_purpose"] if first else self.chance.choice(WORDS["purposes"])
        self.maker.add("visit_planned", recorded, {
            "date": day.isoformat(), "time": clock, "minutes": VISIT_MINUTES, "purpose": purpose,
            "therapist": self.maker.author,
        }, visit=visit)  # fmt: skip
        return visit

    def plan_ahead(self, days: list[date]) -> None:
        """Plan today's or tomorrow's visit; recorded yesterday afternoon at the latest."""
        recorded = local_instant(self.today - timedelta(days=1), "15:30")
        for day, clock in planned(self.client, self.today):
            self.plan(day, clock, recorded, first=not days)

    def clock(self) -> str:
        visits = self.client["visits"]
        return visits["today"] or visits["tomorrow"] or USUAL_TIME

    def event(self, kind: str, measure: str | None, number: int) -> dict[str, Any] | None:
        """Return what the scenario says happens at this visit, or None."""
        found = (each for each in self.client["events"] if each["event"] == kind and each["visit"] == number)
        return next((each for each in found if each.get("measure") == measure), None)


def visit_days(client: dict[str, Any], today: date) -> list[date]:
    """Return the days of past visits, oldest first: every so many weeks before the next planned one."""
    visits = client["visits"]
    if not visits["every"]:
        return []
    next_day = today + timedelta(days=1 if visits["tomorrow"] else 0 if visits["today"] else 4)
    weeks = range(visits["weeks"], 0, -visits["every"])
    return [on_a_weekday(next_day - timedelta(weeks=number)) for number in weeks]


def planned(client: dict[str, Any], today: date) -> Iterator[tuple[date, str]]:
    for name, days in (("today", 0), ("tomorrow", 1)):
        if client["visits"][name]:
            yield today + timedelta(days=days), client["visits"][name]
