"""Random questions for both languages: sensible bodies, spoilt bodies, visits, logs of entries."""

import random
from typing import Any

from webapp.clinical import counting, data, measure_order, measures

Body = dict[str, Any]
TYPED = ["", "x", "37,2", "1,250", "037", "-1", "1e3", "٣٦٫٨", "999999", "0"]
RUBBISH = [*TYPED, None, 5, 3.5, True, [], ["x"], {}]
OF_A_READING = ("check_reading", "judge_reading", "normalise_body", "figure")
KINDS = ["details", "details", "precaution", "target", "visit_started", "visit_planned", *measure_order]


class Maker:
    """Random questions from one seed."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)

    def number(self, field: Body) -> str:
        """A decimal text around the limits of a field, in its usual unit."""
        limits = field.get("impossible", {"low": "0", "high": "160"})
        scale = 10 ** field["decimals"]
        low, high = (round(float(limits[end]) * scale) for end in ("low", "high"))
        value = self.random.randint(low - 2, high + 2)
        whole, part = divmod(abs(value), scale)
        text = f"{whole}.{part:0{field['decimals']}d}".rstrip("0").rstrip(".") if scale > 1 else str(whole)
        return f"-{text}" if value < 0 and text != "0" else text

    def value(self, field: Body) -> Any:
        """A value of the field's kind, now and then rubbish."""
        if self.random.random() < 0.04:
            return self.random.choice(RUBBISH)
        kind = field["type"]
        if kind == "number":
            return self.number(field)
        if kind == "choice":
            return self.random.choice(field["choices"])["id"]
        if kind == "choices":
            ids = [choice["id"] for choice in field["choices"]]
            return self.random.sample(ids, self.random.randint(0, min(3, len(ids))))
        if kind == "series":
            return [self.fields(field["item"], 0.97) for _ in range(self.random.randint(0, 7))]
        return self.random.choice(["", "heard it", "😀 é"])

    def fields(self, fields: list[Body], share: float = 0.8) -> Body:
        """Values for most of the fields."""
        return {field["id"]: self.value(field) for field in fields if self.random.random() < share}

    def body(self, measure_id: str) -> Body:
        """A body of a reading, now and then without one."""
        measure = measures[measure_id]
        if self.random.random() < 0.05:
            return {"not_measured": {"reason": self.random.choice([*data()["reasons"], "x"]), "note": ""}}
        body: Body = {"fields": self.fields(measure["fields"])}
        if self.random.random() < 0.3:
            body["units"] = {
                field["id"]: self.random.choice(field["units"])["code"]
                for field in measure["fields"]
                if field["type"] == "number" and field["id"] in body["fields"]
            }
        if self.random.random() < 0.5 and measure["technique"]:
            steps = [step["id"] for step in measure["technique"]]
            body["technique"] = self.random.sample(steps, self.random.randint(0, len(steps)))
        if self.random.random() < 0.3:
            body["confirmed"] = self.random.sample(list(body["fields"]), min(1, len(body["fields"])))
        return body

    def context(self) -> Body:
        """A context, now and then with parts unknown."""
        codes = list(data()["precautions"])
        context = {
            "age": self.random.choice([None, 10, 15, 16, 17, 18, 70, 92]),
            "sex": self.random.choice([None, "female", "male", "other"]),
            "precautions": self.random.sample(codes, self.random.randint(0, 4)),
            "first_visit": self.random.choice([True, False]),
            "targets": [self.target() for _ in range(self.random.randint(0, 3))],
            "history": {name: self.history(name) for name in measure_order if self.random.random() < 0.6},
            "reading_facts": self.random.choice(
                [{}, {"pulse": {"rhythm": "irregularly_irregular"}, "presentation": {"any_sign": True}}]
            ),
            "settings": {"early_warning": self.random.random() < 0.8},
        }
        return {name: part for name, part in context.items() if self.random.random() < 0.9}

    def target(self) -> Body:
        measure = self.random.choice(measure_order)
        fields = [name for name, fact in measures[measure]["facts"].items() if fact.get("target")] or ["none"]
        ends = sorted(self.random.randint(30, 160) for _ in range(2))
        low, high = (self.random.choice([str(end), None]) for end in ends)
        field = self.random.choice(fields)
        return {"measure": measure, "field": field, "low": low, "high": high, "set_by": "Dr Example"}

    def history(self, measure_id: str) -> list[Body]:
        rows = [row for row in data()["last_time"]["changes"] if row["measure"] == measure_id]
        compared = {name for row in rows for name in row["fields"]}
        known = measures[measure_id]["facts"]
        facts = {name: fact for name, fact in known.items() if fact.get("baseline") or name in compared}
        return [
            {"site": "oral", "supply": "air", **{name: self.number(fact) for name, fact in facts.items()}}
            for _ in range(self.random.randint(0, 5))
        ]

    def visit(self) -> dict[str, Body]:
        # Offered measures now and then: with random values they end nearly every visit in a stop.
        shares = {name: 0.9 if name in counting() else 0.1 for name in measure_order}
        return {name: self.body(name) for name, share in shares.items() if self.random.random() < share}

    def log(self) -> list[Body]:
        """Entries of one client that amend, void and contradict one another, in any order."""
        entries: list[Body] = []
        for place in range(self.random.randint(0, 14)):
            entries.append(self.entry(place, [entry["id"] for entry in entries]))
        self.random.shuffle(entries)
        return entries

    def entry(self, place: int, earlier: list[str]) -> Body:
        kind = self.random.choice(KINDS)
        link = self.random.choice([*earlier, "gone"]) if self.random.random() < 0.35 else None
        void = link is not None and self.random.random() < 0.3
        seq = place if self.random.random() < 0.8 else None
        return {
            "id": f"e{self.random.randint(0, 9)}{place}",
            "kind": kind,
            "client": "c1",
            "visit": self.random.choice([None, "v1", "v2"]),
            "recorded_at": f"2026-11-{self.random.randint(10, 20)}T09:00:00.000Z",
            "author": "u1",
            "device": self.random.choice(["d1", "d2"]),
            "device_seq": place,
            "amends": None if void else link,
            "voids": link if void else None,
            "body": {} if void else self.entry_body(kind, earlier),
            **({} if seq is None else {"seq": seq}),
        }

    def entry_body(self, kind: str, earlier: list[str]) -> Body:
        if kind in measures:
            return self.body(kind)
        if kind == "details":
            seen = self.random.sample(earlier, min(len(earlier), self.random.randint(0, 3)))
            phone = self.random.choice(["1", "2", "3"])
            return {"set": {"phone": phone, "birth_date": "1950-02-28"}, "seen": {"phone": seen}}
        if kind == "target":
            return self.target()
        bodies = {
            "precaution": {"code": self.random.choice(list(data()["precautions"])), "text": ""},
            "visit_started": {"first": self.random.choice([True, False])},
            "visit_planned": {"date": f"2026-11-{self.random.randint(20, 30)}", "time": "09:30"},
        }
        return bodies[kind]

    def questions(self, count: int) -> list[tuple[str, Body]]:
        """So many rounds of questions of every call that takes a body or a log."""
        asked: list[tuple[str, Body]] = []
        for _ in range(count):
            for name in measure_order:
                given = {"measure": name, "body": self.body(name), "context": self.context()}
                asked += [(call, given) for call in OF_A_READING]
            visit = {"bodies": self.visit(), "context": self.context()}
            asked += [("conclude_visit", visit), ("early_warning", visit)]
            entries, today = self.log(), f"2026-11-{self.random.randint(10, 30)}"
            given = {"entries": entries, "visit": "v1", "today": today, "settings": None}
            asked += [(call, given) for call in ("resolve_entries", "client_card", "context_for")]
        return asked
