"""A whole visit without signal: recorded, judged, concluded, and synced when the network is back."""

import re

from playwright.sync_api import expect

from tests.browser.support import go_offline, go_online, screenshot, sign_in, wait_for_draft
from tests.browser.therapist import Therapist

CLIENT = "Adéla Kovářová-Shaw"
NEW_CLIENT = "Margery Fennimore-Cole"


def record_all(therapist: Therapist) -> None:
    """The five vital signs and how the client seems, nothing out of range."""
    therapist.record_blood_pressure(("Left", "118", "76"), ("Left", "116", "74"))
    therapist.back_to_visit()
    therapist.record_pulse("72")
    therapist.back_to_visit()
    therapist.record_breathing("8")
    therapist.back_to_visit()
    therapist.record_temperature("36,8")
    therapist.back_to_visit()
    therapist.record_saturation("97")
    therapist.back_to_visit()
    therapist.record_alert()
    therapist.back_to_visit()


def test_a_visit_without_signal_reaches_the_server_and_the_therapists_other_phone(
    open_phone, own_server, watch
):
    phone = open_phone()
    therapist = Therapist(phone.new_page(), own_server.url).begin()
    page = therapist.page
    go_offline(phone, watch)
    page.reload()
    therapist.open_client(CLIENT)
    therapist.start_visit()
    record_all(therapist)
    page.get_by_role("button", name="Read the conclusion").click()
    expect(page.get_by_role("button", name=re.compile("^Accept"))).to_be_visible()
    page.get_by_role("button", name=re.compile("^Accept")).click()
    page.get_by_role("textbox", name=re.compile("Anything to add")).fill("Kettle moved within reach.")
    page.get_by_role("button", name="Sign and finish").click()
    expect(page.locator("a.status")).to_contain_text("not sent yet")
    go_online(phone)
    therapist.wait_for_sync()

    other = Therapist(open_phone().new_page(), own_server.url).begin()
    other.open_client(CLIENT)
    blood_pressure = other.page.get_by_role("link", name=re.compile("Blood pressure"))
    expect(blood_pressure).to_contain_text("117/75 mmHg")
    expect(other.page.get_by_role("link", name=re.compile("Temperature"))).to_contain_text("36.8 °C")


def test_the_server_killed_in_the_middle_of_a_visit_stops_nothing(phone, own_server, watch):
    therapist = Therapist(phone.new_page(), own_server.url).begin()
    watch.allow_network_errors()
    therapist.open_client(CLIENT)
    therapist.start_visit()
    own_server.kill()
    therapist.record_pulse("88")
    therapist.page.reload()
    expect(therapist.page.locator(".figure")).to_contain_text("88 /min")
    therapist.back_to_visit()
    therapist.record_saturation("96")
    expect(therapist.page.locator("a.status")).to_contain_text("not sent yet")
    own_server.start()
    therapist.page.reload()
    therapist.wait_for_sync()


def test_a_reading_called_saved_survives_the_death_of_the_browser(open_profile, own_server, watch):
    profile = open_profile()
    context = profile.open()
    therapist = Therapist(context.new_page(), own_server.url).begin()
    watch.allow_network_errors()
    therapist.open_client(CLIENT)
    therapist.start_visit()
    own_server.kill()
    therapist.record_pulse("93")
    where = therapist.page.url
    assert profile.kill() > 0

    page = profile.open().new_page()
    page.goto(where)
    expect(page.locator(".figure")).to_contain_text("93 /min")
    own_server.start()
    # The browser writes its cookies down every half minute: the sign-in may have died with it,
    # the reading has not.
    sign_in(page, own_server.url)
    Therapist(page, own_server.url).wait_for_sync()


def test_what_is_typed_survives_a_reload_before_it_is_saved(page, server):
    therapist = Therapist(page, server.url).begin()
    therapist.open_client("Femke van der Zilverberg")
    therapist.start_visit()
    therapist.open_part("Temperature")
    therapist.choose("Mouth")
    therapist.enter("Temperature", "36.4")
    wait_for_draft(page)
    page.reload()
    expect(page.get_by_role("textbox", name="Temperature")).to_have_value("36.4")
    expect(page.locator("input[name=site][value=oral]")).to_be_checked()


def test_two_windows_of_one_phone_show_the_same(phone, own_server):
    first = Therapist(phone.new_page(), own_server.url).begin()
    first.open_client(CLIENT)
    first.start_visit()
    second = phone.new_page()
    second.goto(first.page.url)
    first.record_pulse("64")
    expect(second.get_by_role("link", name=re.compile("^Pulse"))).to_contain_text("64 /min")
    Therapist(second, own_server.url).wait_for_sync()
    Therapist(second, own_server.url).open_part("Temperature")
    Therapist(second, own_server.url).choose("Ear")
    Therapist(second, own_server.url).enter("Temperature", "36.9")
    Therapist(second, own_server.url).save()
    first.back_to_visit()
    expect(first.part("Temperature")).to_contain_text("36.9 °C")
    first.wait_for_sync()


def test_a_correction_keeps_both_and_says_why(page, own_server):
    therapist = Therapist(page, own_server.url).begin()
    therapist.open_client(CLIENT)
    therapist.start_visit()
    therapist.record_pulse("67")
    page.get_by_role("link", name="Look or correct").click()
    page.get_by_role("button", name="Correct this").click()
    expect(page.get_by_role("textbox", name="Rate")).to_have_value("67")
    therapist.enter("Rate", "76")
    therapist.save_button().click()
    expect(page.get_by_role("alert")).to_contain_text("Say what was wrong")
    page.get_by_role("textbox", name="What was wrong?").fill("Digits swapped when typing")
    therapist.save_button().click()
    history = page.get_by_role("list").filter(has_text="First recorded")
    expect(history).to_contain_text("67 /min")
    expect(history).to_contain_text("76 /min")
    expect(history).to_contain_text("Digits swapped when typing")
    therapist.wait_for_sync()


def test_the_first_visit_wants_both_arms_and_judges_their_difference(page, own_server):
    therapist = Therapist(page, own_server.url).begin()
    therapist.open_client(NEW_CLIENT)
    therapist.start_visit()
    therapist.record_blood_pressure(("Left", "128", "78"), ("Right", "146", "80"))
    expect(page.locator(".figure")).to_have_text("146/80 mmHg")
    expect(therapist.finding("arms").first).to_be_visible()
    expect(therapist.finding("baseline").first).to_be_visible()
    screenshot(page, "first-visit-blood-pressure")


def test_a_disagreement_is_shown_and_settled_by_a_person(page, own_server):
    therapist = Therapist(page, own_server.url).begin()
    therapist.open_client(CLIENT)
    differs = page.get_by_role("heading", name="Two records differ on the address")
    expect(differs).to_be_visible()
    chosen = differs.locator("..").locator(".steps-apart li").last
    address = chosen.locator("bdi").inner_text()
    chosen.get_by_role("button", name="This is right").click()
    expect(differs).to_have_count(0)
    expect(page.locator("dd", has_text=address)).to_be_visible()
    therapist.wait_for_sync()


def test_a_reading_taken_again_counts_and_the_first_stays_in_sight(page, own_server):
    therapist = Therapist(page, own_server.url).begin()
    therapist.open_client(CLIENT)
    therapist.start_visit()
    therapist.record_pulse("128")
    page.get_by_role("button", name="Measure again").click()
    expect(page.get_by_role("textbox", name="Rate")).to_have_count(0)
    therapist.choose("Rate read from a device")
    expect(page.get_by_role("textbox", name="Rate")).to_have_value("")
    therapist.enter("Rate", "76")
    therapist.choose("Regular", "Rhythm")
    therapist.save_button().click()
    expect(page.locator(".figure")).to_contain_text("76 /min")
    earlier = page.get_by_role("link", name=re.compile("^128"))
    expect(earlier).to_contain_text("measured again since")
    therapist.back_to_visit()
    expect(therapist.part("Pulse")).to_contain_text("76 /min")
    page.get_by_role("button", name="Conclude without the rest").click()
    expect(page.locator(".finding", has_text="Earlier in this visit")).to_be_visible()
    page.go_back()
    therapist.wait_for_sync()


def test_what_was_left_out_can_still_be_measured(page, own_server):
    therapist = Therapist(page, own_server.url).begin()
    therapist.open_client(CLIENT)
    therapist.start_visit()
    therapist.open_part("Breathing")
    page.get_by_role("button", name="Not measured this time").click()
    therapist.choose("Tried, could not")
    page.get_by_role("button", name="Record as not measured").click()
    page.get_by_role("button", name="Measure it now").click()
    therapist.choose("30 seconds, doubled")
    therapist.enter("Breaths", "8")
    therapist.choose("Regular", "Pattern")
    therapist.save_button().click()
    expect(page.locator(".figure")).to_contain_text("16 /min")
    therapist.wait_for_sync()


def test_a_thumb_that_taps_twice_makes_one_entry(page, own_server):
    therapist = Therapist(page, own_server.url).begin()
    therapist.open_client(CLIENT)
    page.get_by_role("button", name="Start the visit").dblclick()
    expect(therapist.part("Blood pressure")).to_be_visible()
    therapist.open_part("Temperature")
    therapist.choose("Ear")
    therapist.enter("Temperature", "36.7")
    therapist.save_button().dblclick()
    expect(page.locator(".figure")).to_contain_text("36.7 °C")
    expect(page.get_by_role("heading", name="Also at this visit")).to_have_count(0)
    therapist.wait_for_sync()
    therapist.open_client(CLIENT)
    expect(page.get_by_text("Not finished", exact=True)).to_have_count(1)
