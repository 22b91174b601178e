"""Whole visits as a person taps and types them: a first one with every part, and one that follows."""

import re

from playwright.sync_api import expect

from tests.browser.therapist import Therapist

LEVELS = {
    "As expected": "Down the back step with the rail, alone, daily",
    "Better than expected": "Down the back step without the rail",
    "Much better": "Round the garden alone",
    "Less than expected": "Down with one person holding her arm",
    "Much less": "Does not go out",
}
STEPS_AFTER = ("Next: After 1 minute", "Next: After 2 minutes", "Next: After 5 minutes", "Next: How it ended")


class Visitor(Therapist):
    """A therapist at a visit that is more than vital signs."""

    def tap(self, name: str) -> None:
        self.page.get_by_role("button", name=name).first.click()

    def write(self, label: str, text: str) -> None:
        typed = self.page.locator("textarea, input:not([type=radio])")
        self.page.get_by_label(re.compile(f"^{re.escape(label)}")).and_(typed).last.fill(text)

    def pick(self, label: str, option: str) -> None:
        box = self.page.get_by_label(re.compile(f"^{re.escape(label)}"))
        box.select_option(label=box.locator("option", has_text=option).first.text_content())

    def open_section(self, name: str) -> None:
        self.part(name).click()
        self.at(name)

    def at(self, heading: str) -> None:
        expect(self.page.get_by_role("heading", name=heading, exact=True)).to_be_visible()

    def keep(self, back_on: str) -> None:
        self.tap("Save")
        self.at(back_on)

    def finish(self, decision: str) -> None:
        """Read the conclusion, decide, sign."""
        self.tap(decision)
        self.page.get_by_role("button", name=re.compile("^Accept")).click()
        self.tap("Sign and finish")
        self.page.wait_for_url(re.compile("/app/$"))


def vital_signs(visitor: Visitor, *, both_arms: bool) -> None:
    """The five vital signs and how the client seems."""
    readings = [("Left", "128", "76"), ("Right" if both_arms else "Left", "126", "74")]
    for record in (
        visitor.record_alert,
        lambda: visitor.record_blood_pressure(*readings),
        lambda: visitor.record_pulse("72"),
        lambda: visitor.record_breathing("8"),
        lambda: visitor.record_temperature("36.8"),
        lambda: visitor.record_saturation("97"),
    ):
        record()
        visitor.back_to_visit()


def posture(visitor: Visitor) -> None:
    visitor.open_part("Postural blood pressure")
    visitor.choose("Lying", "Where it starts")
    visitor.tap("At rest now: start 5 minutes")
    visitor.write("Systolic at rest", "128")
    visitor.write("Diastolic at rest", "76")
    visitor.tap("Standing up now: start the clock")
    for when, numbers in (("after 1 minute", ("122", "74")), ("after 3 minutes", ("124", "75"))):
        visitor.choose("Well, no symptoms", f"How the client feels {when}")
        visitor.write(f"Systolic {when}", numbers[0])
        visitor.write(f"Diastolic {when}", numbers[1])
        visitor.tap("Next")
    visitor.choose("Both standing readings taken")
    visitor.save()
    visitor.back_to_visit()


def activity(visitor: Visitor) -> None:
    """A task with pulse and saturation at rest, at its end and until the pulse is back."""
    visitor.open_part("Activity tolerance")
    visitor.choose("Stairs")
    visitor.tap("Next: Before, at rest")
    visitor.write("Pulse before", "72")
    visitor.write("Saturation before", "97")
    visitor.tap("Start the task")
    visitor.write("Effort during", "3")
    visitor.tap("Task over")
    for when, pulse, onward in zip(
        ("just after", "after 1 minute", "after 2 minutes", "after 5 minutes"),
        ("92", "84", "78", "74"),
        STEPS_AFTER,
        strict=True,
    ):
        visitor.write(f"Pulse {when}", pulse)
        visitor.tap(onward)
    visitor.choose("Task done")
    visitor.save()
    visitor.back_to_visit()


def function(visitor: Visitor) -> None:
    """The five tests of function, the numbers typed as from a watch of one's own."""
    for title, choices, numbers, end in (
        ("Timed up and go", ("None",), {"Time": "10.5"}, "Finished"),
        ("Chair stand, 30 seconds", ("No",), {"Stands": "13"}, "30 seconds done"),
        ("Balance in four stages", (), {"Side by side": "10", "Instep": "10", "Tandem": "8"}, "Tried as far"),
        ("Walking speed", ("Usual pace", "None"), {"Distance": "4", "Time": "4.2"}, "Finished"),
        ("Grip strength", ("Right",), {"Grip": "24"}, "Tries done"),
    ):
        visitor.open_part(title)
        for choice in choices:
            visitor.choose(choice)
        for label, number in numbers.items():
            visitor.write(label, number)
        visitor.choose(end)
        visitor.save()
        visitor.back_to_visit()


def daily_life(visitor: Visitor) -> None:
    visitor.open_section("Daily life")
    visitor.tap("Add an activity")
    visitor.write("What, in the client's own words", "Down the back step to the hens")
    visitor.pick("Kind of activity", "Stairs and steps")
    visitor.choose("One of the things that matter most")
    visitor.keep("Daily life")
    ask_about_activities(visitor, "Severe")
    visitor.back_to_visit()


def ask_about_activities(visitor: Visitor, difficulty: str) -> int:
    """How each activity goes today, one after the other by the button at the bottom; return how many."""
    asked = 0
    while visitor.page.get_by_role("button", name="How it goes:").is_visible():
        visitor.tap("How it goes:")
        visitor.choose(difficulty)
        visitor.choose("The client said so")
        visitor.keep("Daily life")
        asked += 1
    return asked


def goals(visitor: Visitor) -> None:
    visitor.open_section("Goals")
    visitor.tap("Add a goal")
    visitor.write("The goal in a few words", "Back to the hens")
    for label, words in LEVELS.items():
        visitor.write(label, words)
    visitor.choose("Less than expected", within="Where does the client stand")
    visitor.choose("3: very", within="How important")
    visitor.choose("1: a little", within="How difficult")
    visitor.keep("Goals")
    visitor.back_to_visit()


def review_goals(visitor: Visitor) -> int:
    """Which level each goal has reached; return how many were asked for."""
    reviewed = 0
    while visitor.page.get_by_role("button", name="Review:").is_visible():
        visitor.tap("Review:")
        visitor.choose("As expected")
        visitor.choose("The client said so")
        visitor.keep("Goals")
        reviewed += 1
    return reviewed


def home(visitor: Visitor) -> None:
    visitor.open_section("Home")
    visitor.tap("Add a room or way in")
    visitor.write("What is it called here?", "Back door")
    visitor.choose("Way in")
    visitor.write("Whole rise from below to above", "18")
    visitor.keep("Home")
    visitor.back_to_visit()


def plan(visitor: Visitor) -> None:
    visitor.open_section("Plan")
    visitor.tap("Add a problem")
    visitor.write("The problem in a sentence", "Cannot get to the hens alone")
    visitor.keep("Plan")
    visitor.tap("Add what is done")
    visitor.write("What is done", "Practise the step with the rail")
    visitor.write("How often, for how long", "Daily for two weeks")
    visitor.write("Who does it", "Margery")
    visitor.keep("Plan")
    visitor.tap("Set the day")
    visitor.write("Reassess on", "2099-01-04")
    visitor.write("Why then?", "The rail is in by then")
    visitor.keep("Plan")
    visitor.back_to_visit()


def first_visit(visitor: Visitor, client: str) -> None:
    """Every part of a first assessment, to its signature."""
    visitor.open_client(client)
    visitor.start_visit()
    vital_signs(visitor, both_arms=True)
    for part in (posture, activity, function, daily_life, goals, home, plan):
        part(visitor)
    visitor.finish("Read the conclusion")


def follow_up(visitor: Visitor, client: str) -> None:
    """A later visit to its signature."""
    visitor.open_client(client)
    visitor.start_visit()
    what_is_due(visitor)
    visitor.finish("Read the conclusion")


def what_is_due(visitor: Visitor) -> None:
    """The vital signs, and of what is described what the visit's screen says is due."""
    vital_signs(visitor, both_arms=False)
    visitor.open_section("Daily life")
    assert ask_about_activities(visitor, "Mild") > 0
    visitor.back_to_visit()
    visitor.open_section("Goals")
    assert review_goals(visitor) > 0
    visitor.back_to_visit()
