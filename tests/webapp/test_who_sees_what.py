"""Every address asked by everybody about everything, against the one table in rights_table.py."""

import re
import uuid
from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

import pytest

from tests.databases import copy_of, migrated_file
from tests.webapp.rights_table import CODES, ROWS, WHO, Row
from tests.webapp.support import NOW, SOMEBODY, House, Phone
from tests.webapp.test_rights import put_together
from webapp.storage import assign_caseload, end_caseload, set_active
from webapp.storage.devices import set_revoked
from webapp.storage.models import Organisation
from webapp.storage.teams import join_team, make_team

SECRET, NAME, BORN = "Said in confidence", "Ada van der Berg", "1948-03-02"


class World:
    """A house in which everybody of the table has an account, a session, and a device that has synced."""

    def __init__(self, url: str) -> None:
        self.house = house = House(url)
        others = {"dan": "therapist", "cass": "therapist", "wim": "therapist", "eve": "therapist",
                  "spare": "therapist", "lea": "lead", "lou": "lead", "otto": "administrator"}  # fmt: skip
        for name, role in others.items():
            house.people[name] = house.add_person(name, house.organisation, role)
        self.north = put_together(house, "north", "ann", "lea")
        put_together(house, "south", "ben", "lou")
        with house.database.writing() as session:
            join_team(session, house.organisation, self.north, house.people["wim"].id, "member", NOW)
        house.clients["spare"] = house.add_client("spare")
        long_ago = NOW - timedelta(days=9)
        for name in ("dan", "cass", "wim"):
            assign_caseload(house.database, house.people[name], [house.clients["ann1"]], since=long_ago)
        yesterday = NOW - timedelta(days=1)
        end_caseload(house.database, house.people["dan"], house.clients["ann1"], until=yesterday)
        names = [*filter(None, WHO.values()), "spare"]
        self.phones = {name: house.phone(name) for name in names}
        self.introduce("ann", NAME)
        self.introduce("cleo", "Oda Somewhere")
        for name in names:
            self.phones[name].sync()
        self.other_team = self.team_elsewhere()
        self.access = self.open_for_eve()
        set_revoked(house.database, house.organisation, self.phones["wim"].device, NOW)
        set_active(house.database, house.people["cass"], False)

    def introduce(self, owner: str, name: str) -> None:
        phone = self.phones[owner]
        body = {"set": {"name": name, "birth_date": BORN}, "seen": {}}
        phone.sync(phone.entry("details", body), phone.entry("note", {"text": SECRET}))

    def team_elsewhere(self) -> str:
        with self.house.database.writing() as session:
            return make_team(session, self.house.other, "far away", NOW)

    def open_for_eve(self) -> str:
        eve, lea = self.house.phone("eve"), self.house.phone("lea")
        asked = {"name": NAME, "birth_date": BORN, "reason": "Her therapist is ill."}
        headers = {"X-CSRFToken": eve.csrf}
        done = eve.browser.post("/api/v1/emergency-access", headers=headers, json=asked)
        assert done.status_code == 200
        return lea.browser.get("/api/v1/emergency-access").json["accesses"][0]["id"]

    def epoch_and_head(self, phone: Phone) -> tuple[str, int]:
        with self.house.database.reading() as session:
            organisation = session.get_one(Organisation, phone.person.organisation)
            return organisation.epoch, organisation.head

    def ids(self, about: str) -> dict[str, str]:
        """What a request names: Ann's, something to spare, another organisation's, or nobody's."""
        nobody = str(uuid.UUID(int=7, version=4))
        house, phones = self.house, self.phones
        return {
            "own": {"client": house.clients["ann1"], "person": house.people["ann"].id, "access": self.access,
                    "device": phones["wim"].device, "team": self.north, "name": NAME},
            "spare": {"client": house.clients["spare"], "person": house.people["spare"].id, "access": nobody,
                      "device": phones["spare"].device, "team": self.north, "name": NAME},
            "foreign": {"client": house.clients["cleo1"], "person": house.people["cleo"].id, "access": nobody,
                        "device": phones["cleo"].device, "team": self.other_team, "name": "Oda Somewhere"},
            "missing": dict.fromkeys(("client", "person", "access", "device", "team"), nobody)
            | {"name": "Nobody"},
        }[about]  # fmt: skip


BODIES: dict[str, Callable[[dict[str, str]], dict[str, str]]] = {
    "people/make": lambda ids: {"name": "New", "sign_in_name": "new@example.org", "role": "therapist"},
    "teams/make": lambda ids: {"name": "west"},
    "people": lambda ids: {"person": ids["person"]},
    "teams": lambda ids: {"team": ids["team"], "person": ids["person"], "part": "member"},
    "caseloads": lambda ids: {"person": ids["person"], "client": ids["client"]},
    "devices": lambda ids: {"device": ids["device"]},
    "reassessment/make": lambda ids: {"title": "Often", "type": "every_days", "number": 14},
    "reassessment": lambda ids: {"rule": "home_health_30_days"},
    "calendar": lambda ids: {"zone": "UTC", "weekend": "67", "holidays": ""},
}
REMINDERS: dict[str, dict[str, Any]] = {
    "again": {"reminder": str(uuid.UUID(int=7, version=4))},
    "habits": {"at": "07:30", "zone": "UTC", "days": "12345"},
    "subscribe": {"endpoint": "https://push.example.org/1", "p256dh": "B", "auth": "A", "device": SOMEBODY},
    "unsubscribe": {"endpoint": "https://push.example.org/1"},
    "calendar": {"names": False},
    "calendar/end": {},
}


PAGES = ("people", "teams", "devices", "reassessment")


def ask(world: World, phone: Phone, row: Row) -> Any:
    """Send what a row says."""
    about = row.about.strip("?")
    ids = world.ids(about) if about in ("own", "spare", "foreign", "missing") else world.ids("own")
    path = row.rule.replace("<page>", about if about in PAGES else "people")
    path = path.replace("<name>", "nothing.js").replace("<path>", f"client/{ids['client']}")
    path = path.replace("<measure_id>", "nothing")
    for name, own in ids.items():
        path = path.replace(f"<{name}>", own)
    if row.about.startswith("?"):
        path += f"?client={ids['client']}&organisation_id={world.house.organisation}"
    headers = {"X-CSRFToken": phone.csrf or phone.form_token()}
    if row.method == "GET":
        return phone.browser.get(path, headers=headers)
    if path.startswith(("/api/", "/reminders/")):
        return phone.browser.post(path, json=message_of(row, ids), headers=headers)
    form = {"name": f"{phone.name}?", "password": "not the password"}
    if path.startswith("/office"):
        form = {"act": "people/sign-out", "person": world.ids("spare" if about == "own" else about)["person"]}
    if path == "/handed-in":
        form = {"device": ids["device"]}
    if path == "/account":
        form = {"act": "device/withdraw", "device": ids["device"]}
    return phone.browser.post(path, data=form, headers=headers)


def message_of(row: Row, ids: dict[str, str]) -> dict[str, Any]:
    act = row.rule.partition("/office/")[2]
    if act:
        return BODIES.get(act, BODIES[act.split("/")[0]])(ids)
    if "/reminders/" in row.rule:
        return REMINDERS[row.rule.partition("/reminders/")[2]]
    if row.rule.endswith("emergency-access"):
        return {"name": ids["name"], "birth_date": BORN, "reason": "Somebody fell and is alone."}
    return {}


def sync(world: World, phone: Phone, row: Row) -> Any:
    """Send the sync message that a row says."""
    what, _, about = row.about.partition(":")
    ids = world.ids({"": "own", "earlier": "own"}.get(about, about))
    entry = phone.entry("note", {"text": "pushed"}, client="ann1" if phone.name != "ann" else "") | {
        "client": ids["client"]
    }
    if about == "earlier":
        entry["recorded_at"] = "2026-11-23T09:00:00.000Z"
    if what == "author":
        # Ann's for everybody else, Ben's for Ann: never the sender's own.
        entry["author"] = world.house.people["ben"].id if phone.name == "ann" else ids["person"]
    push = [entry] if what in ("push", "author") else []
    pull = {"after": 0, "caseload": None, "fill": []}
    if what == "fill":
        phone.epoch, pull["after"] = world.epoch_and_head(phone)
        pull["fill"] = [{"client": ids["client"], "after": 0}]
    if what == "device":
        # With a new sign-in: the session is that device's from then on.
        phone = world.house.phone(phone.name) if phone.csrf else phone
        return phone.post(phone.message(push, pull=pull, device=ids["device"]))
    return phone.post(phone.message(push, pull=pull))


def outcome(world: World, phone: Phone, row: Row) -> str:
    """What a cell says."""
    if row.rule != "/api/v1/sync":
        answer = ask(world, phone, row)
    else:
        answer = sync(world, phone, row)
        if answer.status_code == 200 and row.about.startswith(("push", "author")):
            [verdict] = answer.json["verdicts"]
            return CODES[verdict.get("code") or verdict["verdict"]]
    told = answer.text
    answer.close()
    own = world.house.clients["ann1"] in told
    secret = SECRET in told and own or NAME in told
    return f"{answer.status_code}{'+' if own else ''}{'!' if secret else ''}"


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> Iterator[World]:
    template = migrated_file(tmp_path_factory.mktemp("who_template"))
    built = World(copy_of(template, tmp_path_factory.mktemp("who")))
    yield built
    built.house.close()


def test_the_table(world: World):
    """Cases 1, 2, 4 (a number in a list within the message), 5, 6 and 9 are cells of it."""
    nobody = world.house.phone("spare", sign_in=False)
    wrong = []
    for row in ROWS:
        for (who, name), expected in zip(WHO.items(), row.expected, strict=True):
            found = outcome(world, world.phones[name] if name else nobody, row)
            if found != expected:
                wrong.append(f"{row.method} {row.rule} {row.about}: {who} got {found}, not {expected}")
    assert not wrong, "\n".join(wrong)


def test_every_route_has_a_row(world: World):
    named = {(row.method, row.rule) for row in ROWS}
    served = {
        (method, re.sub(r"<[^>]*:", "<", rule.rule))
        for rule in world.house.app.url_map.iter_rules()
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}
    }
    assert served == named
