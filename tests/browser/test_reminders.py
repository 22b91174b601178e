"""Reminders in the browser: a message without a name, what a tap on it does, the screen that rules them."""

import json
import re
from collections.abc import Iterator
from contextlib import contextmanager

from playwright.sync_api import BrowserContext, Page, Worker, expect

from tests.browser.engine_bench import wait_for
from tests.browser.support import go_offline, wait_for_service_worker
from tests.browser.test_due import OPEN, Due
from tests.browser.test_more_screens import GO, look_in_the_app, titled

AGAIN = "01934a5e-0000-7000-8000-000000000001"
KEY = "BOFdAhcD7PoA1RmTuC60a3RXHcF0C6i0Kh6ReYf9i4FSo3nD9-mOxW9tJkq8UqQ6sXk0v2bqP7cX1O6Gd0pT2yE"
# Reading notifications while one is being shown loses it for good: the test waits for this mark first.
MARK_SHOWN = """() => {
  const show = self.registration.showNotification.bind(self.registration);
  self.shown = 0;
  self.registration.showNotification = async (...all) => { await show(...all); self.shown += 1; };
}"""
SHOWN = "() => self.shown"
READ = """async () => (await self.registration.getNotifications()).map((one) => (
  {title: one.title, body: one.body, tag: one.tag, actions: one.actions.map(({action}) => action)}))"""
# An event made by a script is not trusted, and may not be waited for by itself.
CLICK = """async (action) => {
  const [notification] = await self.registration.getNotifications();
  const event = new NotificationEvent('notificationclick', {notification, action});
  let done;
  Object.defineProperty(event, 'waitUntil', {value: (work) => { done = work; }});
  self.dispatchEvent(event);
  await done;
}"""
NO_PUSH = "delete window.PushManager;"
DENIED = "Object.defineProperty(Notification, 'permission', {get: () => 'denied'});"
# Chromium without its maker's service cannot subscribe; what it would give is played here.
SUBSCRIBES = """
  let current = null;
  const made = (options) => ({
    endpoint: 'https://push.example/one', options: {applicationServerKey: new Uint8Array([1]).buffer},
    toJSON: () => ({endpoint: 'https://push.example/one', keys: {p256dh: 'p', auth: 'a'}}),
    unsubscribe: async () => { current = null; },
  });
  PushManager.prototype.subscribe = async (options) => { current = made(options); return current; };
  PushManager.prototype.getSubscription = async () => current;
  Notification.requestPermission = async () => 'granted';
"""


class Pushed:
    """The service worker of a phone, as a push service and a thumb on a notification reach it."""

    def __init__(self, context: BrowserContext, page: Page, url: str) -> None:
        wait_for_service_worker(page)
        context.grant_permissions(["notifications"], origin=url)
        self.page, self.url = page, url
        self.worker: Worker = context.service_workers[0]
        self.worker.evaluate(MARK_SHOWN)
        self.count = 0
        self.cdp, self.registration = context.new_cdp_session(page), {}
        self.cdp.on("ServiceWorker.workerRegistrationUpdated", self._note)
        self.cdp.send("ServiceWorker.enable")

    def _note(self, event: dict) -> None:
        self.registration |= {each["scopeURL"]: each["registrationId"] for each in event["registrations"]}

    def deliver(self, data: str) -> dict:
        """Have the browser take a message; what it then shows."""
        while f"{self.url}/" not in self.registration:
            self.page.wait_for_timeout(20)
        number = self.registration[f"{self.url}/"]
        self.cdp.send(
            "ServiceWorker.deliverPushMessage",
            {"origin": self.url, "registrationId": number, "data": data},
        )
        return self.next_shown()

    def next_shown(self) -> dict:
        """What is shown once one more notification stands."""
        self.count += 1
        wait_for(lambda: self.worker.evaluate(SHOWN) >= self.count)
        self.page.wait_for_timeout(200)
        (shown,) = self.worker.evaluate(READ)
        return shown

    def tap(self, action: str = "") -> None:
        self.worker.evaluate(CLICK, action)


def reminder(count: int) -> str:
    return json.dumps({"k": "reminder", "n": count, "again": AGAIN})


def test_a_message_shows_a_number_and_a_tap_brings_the_list_but_never_over_a_form(phone, own_server, watch):
    therapist = Due(phone.new_page(), own_server.url).begin()
    page = therapist.page
    pushed = Pushed(phone, page, own_server.url)
    assert pushed.deliver(reminder(2)) == {
        "title": "Lintel", "tag": "due", "actions": ["open", "again"],
        "body": "2 reassessments wait for you. Unlock Lintel to see whose.",
    }  # fmt: skip
    pushed.tap()
    expect(page.get_by_role("heading", name="Due", exact=True)).to_be_visible()
    therapist.open_reassessment(OPEN)
    page.get_by_role("link", name="Put off: The day written in the plan").click()
    therapist.write("Why?", "Half a sentence")
    # Broken and empty messages are shown too, in place of the one before.
    for broken in ("{", ""):
        assert pushed.deliver(broken)["body"] == "Something waits for you. Unlock Lintel to see what."
    pushed.tap("open")
    expect(page.get_by_text("You tapped a reminder.")).to_be_visible()
    expect(page.get_by_label(re.compile("^Why"))).to_have_value("Half a sentence")
    look_in_the_app(page, "reminder-offered")
    page.get_by_role("button", name="See what is due").click()
    expect(page.get_by_role("heading", name="Due", exact=True)).to_be_visible()
    page.go_back()
    expect(page.get_by_label(re.compile("^Why"))).to_have_value("Half a sentence")
    expect(page.get_by_text("You tapped a reminder.")).to_have_count(0)
    # A locked window shows nothing of it before it is unlocked, and offers the list then.
    page.evaluate(GO, "/app/phone")
    page.get_by_role("button", name="Lock now").click()
    titled(page, "Locked")
    pushed.deliver(reminder(1))
    pushed.tap("open")
    page.wait_for_timeout(100)
    assert "tapped" not in page.evaluate("() => document.body.textContent")
    expect(page.get_by_text("You tapped a reminder.")).to_be_visible()


def test_putting_a_reminder_off_without_signal_brings_it_back_with_the_reason(phone, own_server, watch):
    therapist = Due(phone.new_page(), own_server.url).begin()
    pushed = Pushed(phone, therapist.page, own_server.url)
    pushed.deliver(reminder(3))
    go_offline(phone, watch)
    pushed.tap("again")
    shown = pushed.next_shown()
    assert shown["body"].startswith("Not put off: there is no connection. 3 reassessments wait")
    phone.set_offline(False)
    watch.allow("status of 404 .*/reminders/again")  # nobody was sent a reminder of this number
    pushed.tap("again")
    shown = pushed.next_shown()
    assert shown["body"].startswith("Not put off: this reminder is too old")
    assert shown["actions"] == ["open"]


@contextmanager
def told(page: Page, **change) -> Iterator[list[tuple[str, dict]]]:
    """Have the server speak of reminders as it would with keys; what it was sent."""
    asked: list[tuple[str, dict]] = []
    state = {
        "key": KEY, "habits": None, "calendar": False, "calendar_names": False, "browsers": 0, **change,
    }  # fmt: skip

    def answer(route) -> None:
        path = route.request.url.partition("/api/v1/reminders")[2]
        if route.request.method == "POST":
            asked.append((path, route.request.post_data_json))
            state["browsers"] = {"/subscribe": 1, "/unsubscribe": 0}.get(path, state["browsers"])
            if path == "/habits":
                state["habits"] = route.request.post_data_json
        route.fulfill(json=state)

    page.route(re.compile("/api/v1/reminders"), answer)
    yield asked
    page.unroute_all()


def at_the_screen(page: Page) -> None:
    page.evaluate(GO, "/app/")
    page.evaluate(GO, "/app/reminders")
    expect(page.get_by_role("heading", name="Reminders", exact=True)).to_be_visible()


def test_reminders_are_switched_on_by_a_button_after_the_words_and_off_again(phone, server):
    phone.add_init_script(SUBSCRIBES)
    therapist = Due(phone.new_page(), server.url).begin()
    page = therapist.page
    with told(page) as asked:
        at_the_screen(page)
        expect(page.get_by_text("A name, an address or anything of a record.", exact=False)).to_be_visible()
        look_in_the_app(page, "reminders")
        therapist.tap("Switch reminders on")
        expect(page.get_by_text("Reminders are on.")).to_be_visible()
        (path, body), habits = asked
        assert path == "/subscribe" and body.pop("device")
        assert body == {"endpoint": "https://push.example/one", "p256dh": "p", "auth": "a"}
        # The clock of the phone, not the server's.
        assert habits[1] | {"at": ""} == {
            "at": "", "zone": "Europe/London", "days": "12345", "quiet_from": None, "quiet_until": None,
        }  # fmt: skip
        look_in_the_app(page, "reminders-on")
        therapist.tap("Switch reminders off here")
        expect(page.get_by_role("button", name="Switch reminders on")).to_be_visible()
        assert asked[-1] == ("/unsubscribe", {"endpoint": "https://push.example/one"})


def test_times_and_a_private_calendar_are_chosen_and_what_is_wrong_is_said_in_place(phone, own_server, watch):
    watch.allow("status of 422 .*/reminders/habits")
    therapist = Due(phone.new_page(), own_server.url).begin()
    page = therapist.page
    at_the_screen(page)
    therapist.write("Time of day", "06:45")
    page.get_by_text("Saturday").click()
    therapist.write("First day", "2099-08-10")
    therapist.tap("Save these times")
    expect(page.get_by_text("Enter both days, or neither.")).to_be_visible()
    look_in_the_app(page, "reminders-wrong")
    therapist.write("Last day", "2099-08-20")
    therapist.tap("Save these times")
    expect(page.get_by_text("Saved.")).to_be_visible()
    page.get_by_text("Make an address").click()
    page.get_by_text("With the names of clients").click()
    expect(page.get_by_text("outside of Lintel’s seal", exact=False)).to_be_visible()
    page.get_by_text("That something is due, without names").click()
    therapist.tap("Make the address")
    address = page.get_by_label("Your address, shown only now")
    expect(address).to_have_value(re.compile(r"/calendar/[\w-]{40,}\.ics$"))
    feed = page.request.get(address.input_value())
    assert feed.ok and feed.text().startswith("BEGIN:VCALENDAR")
    look_in_the_app(page, "reminders-calendar")
    therapist.tap("End the address")
    expect(address).to_have_count(0)
    at_the_screen(page)
    expect(page.get_by_label(re.compile("^Time of day"))).to_have_value("06:45")
    expect(page.get_by_label("Saturday")).to_be_checked()
    expect(page.get_by_role("button", name="End the address")).to_have_count(0)


def test_where_there_can_be_no_message_the_screen_says_why_and_what_works(open_phone, server, watch):
    for script, change, words in (
        (NO_PUSH, {}, "This browser takes no messages."),
        (DENIED, {}, "does not let Lintel show notifications"),
        ("", {"key": None}, "This service has not set up messages."),
    ):
        phone = open_phone()
        if script:
            phone.add_init_script(script)
        page = Due(phone.new_page(), server.url).begin().page
        with told(page, **change):
            at_the_screen(page)
            expect(page.get_by_text(words, exact=False)).to_be_visible()
            expect(page.get_by_role("button", name="Switch reminders on")).to_have_count(0)
    go_offline(phone, watch)
    at_the_screen(page)
    expect(page.get_by_text("This needs a connection.", exact=False)).to_be_visible()
