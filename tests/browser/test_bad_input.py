"""Bad input at the form: said beside the field, in words that help, with what was typed left as it is."""

import pytest
from playwright.sync_api import expect

from tests.browser.support import screenshot
from tests.browser.therapist import Therapist

CLIENT = "Femke van der Zilverberg"


@pytest.fixture
def therapist(page, server) -> Therapist:
    at_work = Therapist(page, server.url).begin()
    at_work.open_client(CLIENT)
    at_work.start_visit()
    return at_work


def error_beside(therapist: Therapist, field: str):
    return therapist.page.locator(f'[data-error-for="{field}"]')


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("366", "25 and 45"),
        ("warm", "number"),
        ("1,250", "without separators"),
        ("-36", "°C"),
    ],
)
def test_a_temperature_that_cannot_be_is_refused_beside_its_field(therapist, typed, words):
    therapist.open_part("Temperature")
    therapist.choose("Ear")
    therapist.enter("Temperature", typed)
    message = error_beside(therapist, "temperature")
    expect(message).to_be_visible()
    assert words in message.inner_text()
    field = therapist.page.get_by_role("textbox", name="Temperature")
    expect(field).to_have_value(typed)
    expect(field).to_have_attribute("aria-invalid", "true")
    therapist.save_button().click()
    expect(therapist.page.get_by_role("alert")).to_contain_text("Before this can be saved")
    expect(therapist.page.get_by_text("Saved on this phone")).to_have_count(0)


def test_swapped_pressures_are_refused_and_both_numbers_stay(therapist):
    therapist.open_part("Blood pressure")
    therapist.choose("Left", "Arm")
    therapist.enter("Systolic", "76")
    therapist.enter("Diastolic", "118")
    expect(error_beside(therapist, "readings.0.diastolic")).to_contain_text("swapped")
    expect(therapist.page.get_by_role("textbox", name="Diastolic")).to_have_value("118")
    screenshot(therapist.page, "bad-input-swapped")


def test_an_unlikely_value_is_asked_about_and_the_answer_is_kept(therapist, server):
    therapist.open_part("Pulse")
    therapist.choose("Rate read from a device")
    therapist.enter("Rate", "38")
    therapist.choose("Regular", "Rhythm")
    therapist.save_button().click()
    expect(therapist.page.get_by_text("Saved on this phone")).to_have_count(0)
    therapist.page.get_by_role("checkbox", name="Yes, it is right as entered").check()
    therapist.save()
    therapist.wait_for_sync()
    entry = [each for each in server.log_entries() if each["kind"] == "pulse"][-1]
    assert entry["body"]["confirmed"] == ["rate"]
    assert entry["body"]["fields"]["rate"] == "38"


def test_what_is_missing_is_listed_on_top_and_leads_to_its_field(therapist):
    therapist.open_part("Oxygen saturation")
    therapist.choose("Oxygen", "Breathing")
    therapist.save_button().click()
    summary = therapist.page.get_by_role("alert")
    expect(summary).to_be_focused()
    summary.get_by_role("link", name="flow").click()
    expect(therapist.page.locator("[data-field=flow] input")).to_be_focused()


def test_a_measure_left_out_needs_a_reason(therapist):
    therapist.open_part("Breathing")
    therapist.page.get_by_role("button", name="Not measured this time").click()
    therapist.page.get_by_role("button", name="Record as not measured").click()
    expect(therapist.page.get_by_text("Choose why it was not measured")).to_be_visible()
    therapist.choose("Other reason")
    therapist.page.get_by_role("button", name="Record as not measured").click()
    expect(therapist.page.get_by_text("Say in a few words why")).to_be_visible()
    therapist.choose("Client did not want it")
    therapist.page.get_by_role("button", name="Record as not measured").click()
    expect(therapist.page.get_by_text("Not measured: client did not want it")).to_be_visible()


def test_deciding_otherwise_needs_a_reason_and_is_kept_beside_the_suggestion(therapist):
    page = therapist.page
    page.get_by_role("button", name="Conclude without the rest").click()
    page.get_by_role("button", name="Decide otherwise").click()
    page.get_by_role("button", name="Record this decision").click()
    expect(page.get_by_text("Choose what you decide.")).to_be_visible()
    therapist.choose("Stop and seek advice")
    page.get_by_role("button", name="Record this decision").click()
    expect(page.get_by_text("Say why in a few words.")).to_be_visible()
    page.get_by_role("textbox", name="Why?").fill("Looks unwell to me.")
    page.get_by_role("button", name="Record this decision").click()
    concluded = page.locator("section", has=page.get_by_role("heading", name="Concluded"))
    expect(concluded).to_contain_text("Stop and seek advice")
    expect(concluded).to_contain_text("Looks unwell to me.")


def test_a_lost_decimal_point_is_mended_by_one_tap(therapist):
    therapist.open_part("Temperature")
    therapist.choose("Ear")
    therapist.enter("Temperature", "366")
    therapist.page.get_by_role("button", name="Use 36.6 °C").click()
    expect(therapist.page.get_by_role("textbox", name="Temperature")).to_have_value("36.6")
    expect(error_beside(therapist, "temperature")).to_be_hidden()
    therapist.save()
    expect(therapist.page.locator(".figure")).to_contain_text("36.6 °C")


def test_the_technique_is_ticked_in_one_go_or_step_by_step(therapist):
    therapist.open_part("Blood pressure")
    page = therapist.page
    page.get_by_text("Technique,").click()
    page.get_by_role("button", name="All of these were done").click()
    steps = page.locator(".ticks input")
    assert steps.count() > 1
    assert page.locator(".ticks input:checked").count() == steps.count()
    steps.first.uncheck()
    assert page.locator(".ticks input:checked").count() == steps.count() - 1
