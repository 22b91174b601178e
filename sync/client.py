"""A client of the protocol: signs in, records, pushes and pulls. One thread, the caller decides when."""

import re
import secrets
import time
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from typing import Any

import msgspec

from sync import device, returning, shapes
from sync.caution import Caution
from sync.errors import AnswerError, MessageError, ServerRefused, SignInNeeded
from sync.instants import write_instant
from sync.messages import MAX_ITEMS, Verdict, request_json
from sync.packing import WORTH_PACKING, pack
from sync.refusals import TOO_LARGE, error_in, is_for_content, refusal_in
from sync.replies import Reply, parse_reply
from sync.state import Entry
from sync.store import Store
from sync.transport import Answer, Transport
from sync.uuid7 import RANDOM_BYTES, uuid7

BUILD = "python-client/1"
DAY = 24 * 60 * 60
_TOKEN = re.compile(r'name="csrf_token"[^>]*value="([^"]+)"')


class Client:
    """One device of one person, over a store and a transport."""

    def __init__(
        self,
        transport: Transport,
        store: Store,
        *,
        name: str = "Python client",
        clock: Callable[[], float] = time.time,
    ) -> None:
        self._transport, self._store, self._name, self._clock = transport, store, name, clock
        self._session: Mapping[str, Any] | None = None
        self._later_from = 0.0
        self._hand_back_from = 0.0
        self._own_first = False
        self._caution = Caution()

    @property
    def state(self) -> device.State:
        """What this device holds now."""
        return self._store.get()

    @property
    def _hands_back(self) -> bool:
        return self._clock() >= self._hand_back_from

    def sign_in(self, name: str, password: str) -> Mapping[str, Any]:
        """Sign in by the form; the session. SignInNeeded when name and password do not fit."""
        page = self._transport.get("/sign-in")
        token = _TOKEN.search(page.text())
        if page.status != 200 or token is None:
            raise AnswerError("this is not the sign-in page")
        answer = self._transport.form(
            "/sign-in", {"csrf_token": token[1], "name": name, "password": password}
        )
        if answer.status == 401:
            raise SignInNeeded("name and password do not fit")
        if answer.status not in (200, 302, 303):
            raise refusal_in(answer)
        return self.session(again=True)

    def session(self, again: bool = False) -> Mapping[str, Any]:
        """Who is signed in, asked once unless told to ask again."""
        if self._session is None or again:
            self._session = None
            session = _json_object(self._transport.get("/api/v1/session"))
            self._store.put(device.belonging_to(self.state, _user_of(session)))
            self._session = session
        return self._session

    def record(
        self,
        kind: str,
        client: str,
        body: Mapping[str, Any],
        *,
        visit: str | None = None,
        amends: str | None = None,
        voids: str | None = None,
        reason: str | None = None,
        utc_offset: int = 0,
    ) -> str:
        """Record an entry on this device; its id. It is kept before this returns."""
        moment = self._clock()
        entry = {
            "id": self._fresh_id(),
            "kind": kind,
            "schema": 1,
            "client": client,
            "visit": visit,
            "recorded_at": _instant(moment),
            "utc_offset": utc_offset,
            "author": self.session()["user"]["id"],
            "amends": amends,
            "voids": voids,
            "reason": reason,
            "body": dict(body),
        }
        self._store.put(device.save(self.state, entry))
        return str(entry["id"])

    def sync(self, most: int = MAX_ITEMS, send_held: bool = False) -> Reply:
        """One exchange: push what waits, pull a page, keep both with one put.

        What is too large for the server is sent in smaller parts; one entry alone that is, is held. After a
        refusal that may be due to what was sent the next exchanges send less, and go on without what was
        refused alone again and again: that is tried once a day.
        """
        state, most = self.state, min(most, self._caution.most)
        due = self._clock() >= self._later_from
        push = device.batch(state, most, send_held, send_later=due)
        returned = returning.handing_back(state, most) if self._hands_back and not self._own_first else ()
        asked = device.request(state, push, BUILD, self._name, returned)
        try:
            reply = parse_reply(self._exchange(request_json(asked)), len(push), len(asked.handed_back))
        except ServerRefused as refusal:
            if returned and is_for_content(refusal):
                # What others recorded must not stand in the way of this device's own: it is kept for later.
                self._hand_back_from = self._clock() + DAY
                return self.sync(most, send_held)
            if refusal.status != TOO_LARGE or not push:
                self._be_careful(push, refusal)
                raise
            if len(push) == 1:
                told = Verdict(push[0]["id"], "held", code=refusal.code, message=refusal.message)
                self._store.put(device.kept_back(self.state, told))
            return self.sync(max(1, len(push) // 2))
        except AnswerError:
            # Nor may it where nothing was said: it makes the message longer, and the line may be bad.
            self._own_first = self._own_first or bool(returned)
            raise
        self._own_first = False
        self._caution.answered()
        try:
            state = device.apply_reply(self.state, asked, reply, datetime.fromtimestamp(self._clock(), UTC))
            self._store.put(device.renamed(state, asked, reply, self._fresh_id))
        except SignInNeeded:
            self._session = None
            raise
        if returned and not reply.returned:  # an older server passes it over
            self._hand_back_from = self._clock() + DAY
        if due and self.state.later & {entry["id"] for entry in push}:
            self._later_from = self._clock() + DAY
        return reply

    def sync_all(self, most: int = MAX_ITEMS) -> int:
        """Exchange until nothing that can be sent or fetched is left; how many exchanges it took."""
        exchanges, idle, before = 0, 0, -1
        while True:
            reply = self.sync(most)
            exchanges += 1
            state = self.state
            waiting = len(state.outbox) - len(state.held) - len(state.later)
            waiting += len(state.returning) - len(state.aside) if self._hands_back else 0
            # What cannot be stored yet goes to the end: in vain once each had its turn.
            idle, before = (idle + 1 if waiting == before else 0), waiting
            fetched = not reply.more and not self.state.filling
            if fetched and idle * most >= waiting:
                return exchanges

    def _be_careful(self, push: tuple[Entry, ...], refusal: ServerRefused) -> None:
        alone = self._caution.refused(push) if push and is_for_content(refusal) else None
        if alone is not None:
            told = Verdict(alone["id"], "later", code=refusal.code, message=refusal.message)
            self._store.put(device.kept_back(self.state, told))
            self._later_from = self._clock() + DAY

    def _fresh_id(self) -> str:
        return uuid7(int(self._clock() * 1000), secrets.token_bytes(RANDOM_BYTES))

    def _exchange(self, message: Mapping[str, Any]) -> Any:
        data = msgspec.json.encode(message)
        answer = self._post(data, self.session()["csrf"])
        if answer.status == 400 and error_in(answer).get("code") == "csrf":
            answer = self._post(data, self.session(again=True)["csrf"])
        return _json_object(answer)

    def _post(self, data: bytes, csrf: str) -> Answer:
        headers = {"X-CSRFToken": csrf, "Content-Type": "application/json"}
        if len(data) > WORTH_PACKING:
            data, headers["Content-Encoding"] = pack(data), "gzip"
        return self._transport.post("/api/v1/sync", data, headers)


def _json_object(answer: Answer) -> Any:
    """The value of a good answer; an error of the server's as what it is; all else is no answer."""
    if answer.status != 200:
        raise refusal_in(answer)
    return answer.json()


def _user_of(session: Any) -> str:
    """The id of the user of a session; AnswerError when it is none."""
    try:
        shapes.text(session, "csrf", 500)
        return shapes.uuid(shapes.mapping(session["user"], "user"), "id")
    except (MessageError, KeyError, TypeError, AttributeError) as error:
        raise AnswerError("this is not a session") from error


def _instant(moment: float) -> str:
    return write_instant(datetime.fromtimestamp(moment, UTC))
