"""A phone that runs what the browser runs: the real engine and the real store, in a Node process."""

import base64
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Any

from sync.canonical import entry_hash
from sync.device import State
from sync.messages import Request, Verdict
from sync.transport import Answer
from tests.sync.simulation.host import Host
from tests.sync.simulation.phone import Flight, Phone, PowerCut, Saved

# Where its power may fail.
STEPS = (
    "before it sends", "while it reads", "before a transaction", "inside a transaction",
    "after a transaction",
)  # fmt: skip


@dataclass(frozen=True)
class Backup:
    """What a person's database held, and what that meant."""

    state: State
    rows: Mapping[str, Any]

    @property
    def device(self) -> str:
        return self.state.device

    @property
    def entries(self) -> Mapping[str, Any]:
        return self.state.entries

    @property
    def outbox(self) -> Mapping[str, Any]:
        return self.state.outbox


class BrowserPhone(Phone):
    """What Python knows of it is asked for: `state_of` is a look into its database."""

    offers = 500
    stride = 9

    def __init__(
        self, host: Host, name: str, person: str, now: Callable[[], datetime], new_id: Any
    ) -> None:
        super().__init__(name, person, now, new_id)
        self.host = host
        self.seen: dict[str, State] = {}

    def tell(self, do: str, person: str | None = None, **more: Any) -> Any:
        """Have the phone do something; PowerCut when it went off over it."""
        who = person or self.person
        moment = int((self.now() + self.skew).timestamp() * 1000)
        if do not in ("state", "copy", "details"):
            self.seen.clear()
            more |= {"offIn": self.off_in} if self.off_in is not None else {}
            self.off_in = None
        self.stores.setdefault(who, None)  # type: ignore[arg-type]
        answer = self.host.tell({"do": do, "phone": self.name, "person": who, "now": moment} | more)
        if "died" in answer:
            self.flights.clear()
            raise PowerCut(answer["died"])
        return answer

    @property
    def state(self) -> State:
        return self.state_of(self.person)

    def state_of(self, person: str) -> State:
        if person not in self.seen:
            self.seen[person] = state_from(self.tell("state", person))
        return self.seen[person]

    def details(self, person: str) -> Any:
        """The details of each client as the browser's own code resolves them."""
        return self.tell("details", person)["details"]

    def record(self, draft: Mapping[str, Any], own: str) -> Saved:
        entry = made(self.tell("save", draft={**draft, "id": own})["entry"])
        return Saved(entry, entry_hash(entry), self.person, self.skew)

    def ask(self, most: int, send_held: bool, window: int = 0) -> None:
        if window not in self.flights:
            self.go_on(self.person, window, self.tell("ask", window=window, sendHeld=send_held))

    def go_on(self, person: str, window: int, answer: Any) -> bool:
        """After a command the engine asks the next thing, or has come to its end."""
        self.flights.pop(window, None)
        if "request" in answer:
            self.sent += 1
            nothing = Request("", "", "", None, 0, 0)
            self.flights[window] = Flight(self.sent, window, person, nothing)
            asked = answer["request"]
            headers = {key.lower(): value for key, value in asked["headers"].items()}
            self.post(self.sent, base64.b64decode(asked["body"]), asked["path"], headers)
            return True
        return bool(answer.get("ended", {}).get("phase") == "idle")

    def hear(self, number: int, answer: Answer | None) -> bool:
        flight = self.flight(number)
        assert flight is not None
        told = answer and {
            "status": answer.status, "headers": dict(answer.headers),
            "body": base64.b64encode(answer.body).decode(),
        }  # fmt: skip
        heard = self.tell("hear", flight.person, window=flight.window, answer=told)
        return self.go_on(flight.person, flight.window, heard)

    def give_up(self, window: int) -> None:
        if window in self.flights:
            person = self.flights[window].person
            try:
                self.go_on(person, window, self.tell("giveUp", person, window=window))
            except PowerCut:
                pass

    def restart(self) -> None:
        self.flights.clear()
        self.off_in = None
        self.tell("restart")

    def copy(self) -> dict[str, Any]:
        return {own: Backup(self.state_of(own), self.tell("copy", own)["copy"]) for own in list(self.stores)}

    def put_back(self, copy: Mapping[str, Any]) -> None:
        self.flights.clear()
        self.off_in = None
        self.stores.clear()
        self.tell("putBack", copies={own: backup.rows for own, backup in copy.items()})
        for own in copy:
            self.state_of(own)
        self.state_of(self.person)

    def wipe(self) -> set[str]:
        gone = {self.state.device, *self.state.former}
        self.flights.clear()
        self.off_in = None
        self.tell("wipe")
        del self.stores[self.person]
        return gone


def made(entry: Mapping[str, Any]) -> dict[str, Any]:
    """An entry as it was made, without what the server adds."""
    return {key: value for key, value in entry.items() if key not in ("seq", "received_at")}


def state_from(facts: Any) -> State:
    """What a browser's database says, in the words of the Python client."""
    cursor, outbox = facts["cursor"], facts["outbox"]
    assert all(row["entry"] is not None for row in outbox), "a place in the outbox without its entry"
    assert None not in [*facts["entries"], *facts["returning"]], "an entry that does not open"
    caseload = cursor["caseload"] or {"version": None, "clients": ()}
    return State(
        device=facts["device"]["id"],
        person=facts["person"],
        device_seq=facts["device"]["seq"],
        former=tuple(facts["device"].get("former", ())),
        epoch=cursor["epoch"],
        after=cursor["after"],
        caseload=caseload["version"],
        clients=tuple(caseload["clients"]),
        read_only=tuple(caseload.get("read_only", ())),
        filling={one["client"]: one["after"] for one in cursor["fill"]},
        entries={entry["id"]: entry for entry in facts["entries"]},
        outbox={row["id"]: made(row["entry"]) for row in outbox},
        verdicts={row["id"]: verdict_of(row) for row in outbox if is_judged(row)},
        sweep=cursor["sweep"],
        returning={entry["id"]: made(entry) for entry in facts["returning"]},
        returned={row["id"]: verdict_of(row) for row in facts["returned"] if "verdict" in row},
    )


def is_judged(row: Any) -> bool:
    """Whether what is said of an entry still stands: what was held and is to be sent again is as new."""
    return "verdict" in row and (row["state"] == "held" or row["verdict"] not in ("held", "clash"))


def verdict_of(row: Any) -> Verdict:
    return Verdict(row["id"], row["verdict"], code=row["code"], field=row["field"], message=row["message"])


def browsers(host: Host, *names: str, broken: str = "") -> dict[str, Callable[..., Phone]]:
    """How the phones of these names are made in a world; it forgets those of the world before."""
    host.begin(broken)
    return {name: partial(BrowserPhone, host) for name in names}
