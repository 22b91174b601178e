"""Bodies of readings, in the shapes of the clinical data, from a few usual values of an invented client."""

import random
from dataclasses import dataclass
from typing import Any

from webapp import clinical

Body = dict[str, Any]


@dataclass(frozen=True)
class Moment:
    """One visit as far as readings care: whose, how far along the story, and a source of chance."""

    client: dict[str, Any]
    progress: float
    first: bool
    source: random.Random
    signs: dict[str, Any] | None = None

    @property
    def precautions(self) -> set[str]:
        return {precaution["code"] for precaution in self.client["precautions"]}

    @property
    def irregular(self) -> bool:
        return "irregular_pulse_known" in self.precautions

    def value(self, name: str, scatter: int = 0) -> int:
        """Return a whole number near the client's usual one, or along its course when it has one."""
        course = self.client["course"].get(name)
        usual = (
            round(course[0] + (course[1] - course[0]) * self.progress)
            if course
            else self.client["usual"][name]
        )
        return usual + self.source.randint(-scatter, scatter)


def body_of(measure: str, moment: Moment) -> Body:
    """Return the whole body of a measured reading: fields, technique, and confirmations where asked."""
    fields = FIELDS[measure](moment)
    return confirmed(measure, {"fields": fields, "units": {}, "technique": technique(measure, fields)})


def confirmed(measure: str, body: Body) -> Body:
    """Return the body with every question that the app would ask answered with yes."""
    questions = clinical.check_reading(measure, {**body, "confirmed": []})["questions"]
    return {**body, "confirmed": sorted({question["field"] for question in questions})}


def not_measured(reason: str, note: str) -> Body:
    return {"not_measured": {"reason": reason, "note": note}}


def technique(measure: str, fields: Body) -> list[str]:
    """Return the technique steps of a careful therapist: all that apply to the way it was measured."""
    steps = clinical.measures[measure]["technique"]
    return [step["id"] for step in steps if clinical.evaluate(step.get("shown", True), fields)]


def blood_pressure(moment: Moment) -> Body:
    fields = {"posture": "sitting", "method": "listening" if moment.irregular else "automatic"}
    if moment.irregular:
        fields["palpated_systolic"] = str(moment.value("systolic") - 4)
    if moment.first:
        fields["arm_circumference"] = str(moment.source.randint(27, 33))
        fields["cuff"] = clinical.cuff_for(fields["arm_circumference"])
    arms = arms_to_use(moment)
    return {**fields, "readings": [one_pressure(moment, arm) for arm in arms]}


def arms_to_use(moment: Moment) -> list[str]:
    free = [arm for arm in ("left", "right") if f"no_bp_{arm}_arm" not in moment.precautions]
    return [*free, *free] if moment.first else [free[-1], free[-1]]


def one_pressure(moment: Moment, arm: str) -> Body:
    return {
        "arm": arm,
        "systolic": str(moment.value("systolic", 4)),
        "diastolic": str(moment.value("diastolic", 3)),
    }


def pulse(moment: Moment) -> Body:
    rate = moment.value("pulse", 4)
    site = {"site": "radial_right"}
    if moment.irregular:
        return {"how": "count_60", "beats": str(rate), "rhythm": "irregularly_irregular", **site}
    return {"how": "count_30", "beats": str(rate // 2), "rhythm": "regular", **site}


def respiration(moment: Moment) -> Body:
    breaths = moment.value("respiration", 1) // 2
    effort = "laboured" if breaths > 10 else "easy"
    return {"how": "count_30", "breaths": str(breaths), "pattern": "regular", "effort": effort}


def temperature(moment: Moment) -> Body:
    tenths = round(float(moment.client["usual"]["temperature"]) * 10) + moment.source.randint(-2, 2)
    return {"site": "tympanic", "temperature": f"{tenths // 10}.{tenths % 10}".removesuffix(".0")}


def oxygen_saturation(moment: Moment) -> Body:
    saturation = str(min(99, moment.value("oxygen_saturation", 1)))
    if "oxygen_at_home" in moment.precautions:
        return {"supply": "oxygen", "flow": "1", "device": "nasal_cannula", "saturation": saturation}
    return {"supply": "air", "saturation": saturation}


def presentation(moment: Moment) -> Body:
    if moment.signs:
        return {
            "consciousness": "alert",
            "warning_signs": moment.signs["signs"],
            "what_you_see": moment.signs["note"],
        }
    return {"consciousness": "alert", "warning_signs": ["none"]}


def postural_blood_pressure(moment: Moment) -> Body:
    """Lying, then standing: a client said to be dizzy on standing falls further."""
    systolic, diastolic = moment.value("systolic", 3), moment.value("diastolic", 2)
    falls = "falls_risk" in moment.precautions
    fields = {"start": "lying", "rest_pulse": str(moment.value("pulse", 3)), "ended": "finished"}
    fields |= {"rest_systolic": str(systolic), "rest_diastolic": str(diastolic)}
    for at, drop in (("one", 22 if falls else 6), ("three", 16 if falls else 3)):
        fields[f"{at}_systolic"] = str(systolic - drop + moment.source.randint(-2, 2))
        fields[f"{at}_diastolic"] = str(diastolic - drop // 3)
        fields[f"{at}_pulse"] = str(moment.value("pulse", 3) + 8)
        fields[f"{at}_symptoms"] = ["none"]
    return fields


def activity_tolerance(moment: Moment) -> Body:
    """The stairs at home: less of an effort as the weeks go by."""
    rest, saturation = moment.value("pulse", 2), min(99, moment.value("oxygen_saturation", 1))
    rise, effort = 26 - round(8 * moment.progress), 6 - round(2 * moment.progress)
    fields = {"task": "stairs", "task_words": "Up to bed and down again", "ended": "finished"}
    shares = {"before": 0, "during": 1, "after": 0.9, "one": 0.5, "two": 0.3, "five": 0.1}
    for at, share in shares.items():
        fields[f"{at}_pulse"] = str(rest + round(rise * share))
        fields[f"{at}_saturation"] = str(saturation - round(2 * share))
        fields[f"{at}_breathless"] = str(round(effort * share))
    return {**fields, "during_effort": str(effort), "after_effort": str(effort)}


def tenths(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def timed_up_and_go(moment: Moment) -> Body:
    """Slower with the years, and a little quicker over the weeks of practice."""
    seconds = 9 + (moment.client["age"]["years"] - 65) / 4 - 3 * moment.progress
    seconds = max(7.5, seconds) + moment.source.randint(-5, 5) / 10
    aid = "stick" if "falls_risk" in moment.precautions else "none"
    return {"aid": aid, "seconds": tenths(seconds), "ended": "finished"}


def chair_stand(moment: Moment) -> Body:
    stands = 14 - (moment.client["age"]["years"] - 60) // 5 + round(3 * moment.progress)
    return {"arms": "no", "stands": str(stands + moment.source.randint(-1, 1)), "ended": "finished"}


def balance_stages(moment: Moment) -> Body:
    tandem = 6 + 4 * moment.progress + moment.source.randint(-5, 0) / 10
    return {"side_by_side": "10", "instep": "10", "tandem": tenths(min(9.9, tandem)), "ended": "finished"}


def walking_speed(moment: Moment) -> Body:
    seconds = 5.4 - 0.8 * moment.progress + moment.source.randint(-2, 2) / 10
    fields = {"pace": "usual", "aid": "none", "distance": "4", "seconds": tenths(seconds)}
    return {**fields, "ended": "finished"}


def grip_strength(moment: Moment) -> Body:
    usual = 27 if moment.client["sex"] == "male" else 17
    tries = [
        {"hand": hand, "force": tenths(usual + 2 * moment.progress + moment.source.randint(-15, 15) / 10)}
        for hand in ("right", "left", "right", "left")
    ]
    return {"tries": tries, "ended": "finished"}


FIELDS = {
    "blood_pressure": blood_pressure,
    "pulse": pulse,
    "respiration": respiration,
    "temperature": temperature,
    "oxygen_saturation": oxygen_saturation,
    "presentation": presentation,
    "postural_blood_pressure": postural_blood_pressure,
    "activity_tolerance": activity_tolerance,
    "timed_up_and_go": timed_up_and_go,
    "chair_stand": chair_stand,
    "balance_stages": balance_stages,
    "walking_speed": walking_speed,
    "grip_strength": grip_strength,
}
