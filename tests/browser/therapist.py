"""A therapist at work in the browser: the steps of a visit as a person takes them."""

import re

from playwright.sync_api import Page, expect

from tests.browser.support import sign_in, wait_for_service_worker, wait_until_sent


class Therapist:
    """One signed-in person on one page; every method does what a thumb would do."""

    def __init__(self, page: Page, url: str) -> None:
        self.page, self.url = page, url

    def begin(self, who: str | None = None) -> "Therapist":
        """Sign in, and wait until the caseload and the app itself are on this phone."""
        sign_in(self.page, self.url, *([who] if who else []))
        expect(self.page.get_by_text("All synced at").first).to_be_visible()
        wait_for_service_worker(self.page)
        return self

    def open_client(self, name: str) -> None:
        """From the caseload, by searching; within the app where a place links to it."""
        place = self.page.get_by_role("navigation", name="Places").get_by_role("link", name="Caseload")
        if place.is_visible():
            place.click()
        else:
            self.page.goto(f"{self.url}/app/caseload")
        self.page.get_by_role("searchbox").fill(name)
        self.page.get_by_role("link", name=name).first.click()
        expect(self.page.get_by_role("heading", name="Before you knock")).to_be_visible()

    def start_visit(self) -> None:
        self.page.get_by_role("button", name=re.compile("Start the visit|Go on with the visit")).click()
        self.at_the_visit()

    def at_the_visit(self) -> None:
        """On the visit's own screen: the client's has links to earlier readings with the same titles."""
        expect(self.page).to_have_url(re.compile("/visit/[0-9a-f-]{36}$"))
        expect(self.part("Blood pressure")).to_be_visible()

    def part(self, title: str):
        """The line of a part on the visit's screen, by its whole title: some begin alike."""
        lead = self.page.locator(".lead", has_text=re.compile(f"^{re.escape(title)}$"))
        return self.page.get_by_role("link").filter(has=lead)

    def open_part(self, title: str) -> None:
        self.part(title).click()
        expect(self.page.locator(".foot .next button").last).to_be_enabled()

    def back_to_visit(self) -> None:
        self.page.get_by_role("link", name="Visit").first.click()
        self.at_the_visit()

    def choose(self, label: str, within: str | None = None) -> None:
        """Tap an option; `within` is the question it answers when the label alone is not enough."""
        place = self.page.get_by_role("group", name=re.compile(f"^{within}")).last if within else self.page
        place.locator("label.option", has_text=re.compile(f"^{label}")).first.click()

    def enter(self, label: str, value: str) -> None:
        """Type into the last field of that name, and leave it."""
        field = self.page.get_by_role("textbox", name=re.compile(f"^{label}")).last
        field.fill(value)
        field.press("Tab")

    def save_button(self):
        return self.page.get_by_role("button", name=re.compile("^Save"))

    def save(self) -> None:
        """Save what is on the form, and wait for the word that it is safe."""
        self.save_button().click()
        expect(self.page.get_by_text("Saved on this phone")).to_be_visible()

    def record_blood_pressure(
        self, *readings: tuple[str, str, str], method: str = "Automatic device"
    ) -> None:
        """Readings as (arm, systolic, diastolic)."""
        self.open_part("Blood pressure")
        self.choose("Sitting", "Posture")
        self.choose(method)
        for index, (arm, systolic, diastolic) in enumerate(readings):
            if index:
                self.page.get_by_role("button", name="Add a reading").click()
            self.choose(arm, "Arm")
            self.enter("Systolic", systolic)
            self.enter("Diastolic", diastolic)
        self.save()

    def record_pulse(self, rate: str, rhythm: str = "Regular") -> None:
        self.open_part("Pulse")
        self.choose("Rate read from a device")
        self.enter("Rate", rate)
        self.choose(rhythm, "Rhythm")
        self.save()

    def record_breathing(self, count: str) -> None:
        self.open_part("Breathing")
        self.choose("30 seconds, doubled")
        self.enter("Breaths", count)
        self.choose("Regular", "Pattern")
        self.save()

    def record_temperature(self, value: str, site: str = "Ear", unit: str = "°C") -> None:
        self.open_part("Temperature")
        self.choose(site)
        self.page.locator("label.unit-option", has_text=unit).click()
        self.enter("Temperature", value)
        self.save()

    def record_saturation(self, value: str) -> None:
        self.open_part("Oxygen saturation")
        self.choose("Air", "Breathing")
        self.enter("Reading", value)
        self.save()

    def record_alert(self) -> None:
        self.open_part("How the client seems")
        self.choose("Alert")
        self.choose("None of these")
        self.save()

    def finding(self, words: str):
        """A judgement on the screen, by its words."""
        return self.page.locator(".finding", has_text=words)

    def wait_for_sync(self) -> None:
        """Until everything is sent, and the status says so."""
        wait_until_sent(self.page)
