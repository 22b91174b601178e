"""A client of the protocol: signs in, records, pushes and pulls. One thread, the caller decides when."""

import re
import secrets
import time
from collections.abc import Callable, Collection, Mapping
from datetime import UTC, datetime
from typing import Any

import msgspec

from sync import device, returning, shapes
from sync.errors import AnswerError, MessageError, ServerRefused, SignInNeeded
from sync.instants import write_instant
from sync.messages import MAX_ITEMS, Returned, Verdict, request_json
from sync.packing import WORTH_PACKING, pack
from sync.refusals import TOO_LARGE, error_in, is_for_content, refusal_in
from sync.replies import Reply, parse_reply
from sync.state import Entry
from sync.store import Store
from sync.transport import Answer, Transport
from sync.uuid7 import RANDOM_BYTES, uuid7

BUILD = "python-client/1"
DAY = 24 * 60 * 60
MOST_SUSPECTS = 2  # of one exchange: each takes some ten requests to find
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
        self._packs = True

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

        It takes several where a message is refused and what it holds may be why: one entry that is too large
        by itself is held, and what is refused alone while the server answers without it is tried again after
        a day.
        """
        push = self._batch(most, send_held)
        gives_back = self._hands_back and not self._own_first
        returned = returning.handing_back(self.state, most) if gives_back else ()
        try:
            return self._once(push, returned)
        except ServerRefused as refusal:
            if not is_for_content(refusal) or not (push or returned):
                raise
            if returned:
                # What others recorded must not stand in the way of this device's own: it is kept for later.
                self._hand_back_from = self._clock() + DAY
                return self.sync(most, send_held)
            if refusal.status != TOO_LARGE:
                self._once((), ())  # where this is refused, too, it is the server's bad moment
            return self._carefully(most, len(push))
        except AnswerError:
            # Nor may it where nothing was said: it makes the message longer, and the line may be bad.
            self._own_first = self._own_first or bool(returned)
            raise

    def _batch(self, most: int, send_held: bool = False, without: Collection[str] = ()) -> tuple[Entry, ...]:
        due = self._clock() >= self._later_from
        return device.batch(self.state, most, send_held, due, without)

    def _once(self, push: tuple[Entry, ...], returned: tuple[Returned, ...]) -> Reply:
        asked = device.request(self.state, push, BUILD, self._name, returned)
        reply = parse_reply(self._exchange(request_json(asked)), len(push), len(asked.handed_back))
        self._own_first = False
        try:
            state = device.apply_reply(self.state, asked, reply, datetime.fromtimestamp(self._clock(), UTC))
            self._store.put(device.renamed(state, asked, reply, self._fresh_id))
        except SignInNeeded:
            self._session = None
            raise
        if returned and not reply.returned:  # an older server passes it over
            self._hand_back_from = self._clock() + DAY
        if self.state.later & {entry["id"] for entry in push}:
            self._later_from = self._clock() + DAY
        return reply

    def _carefully(self, most: int, refused: int) -> Reply:
        """Send half of what was refused, and half of that, until something is taken."""
        suspects: dict[str, ServerRefused] = {}
        count = max(1, refused // 2)
        while True:
            push = self._batch(count, without=suspects)
            try:
                reply = self._once(push, ())
            except ServerRefused as refusal:
                if not is_for_content(refusal) or not push or len(suspects) == MOST_SUSPECTS:
                    raise
                count = max(1, len(push) // 2)
                if len(push) == 1:
                    count = most
                    self._suspect(push[0]["id"], refusal, suspects)
            else:
                # Only now: while nothing is answered, it is not for what they hold.
                for own, refusal in suspects.items():
                    self._keep_back(own, "later", refusal)
                return reply

    def _suspect(self, own: str, refusal: ServerRefused, suspects: dict[str, ServerRefused]) -> None:
        if refusal.status == TOO_LARGE:
            self._keep_back(own, "held", refusal)
        else:
            self._store.put(device.behind_others(self.state, own))
            suspects[own] = refusal

    def _keep_back(self, own: str, verdict: str, refusal: ServerRefused) -> None:
        told = Verdict(own, verdict, code=refusal.code, message=refusal.message)
        self._store.put(device.kept_back(self.state, told))
        if verdict == "later":
            self._later_from = self._clock() + DAY

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

    def _fresh_id(self) -> str:
        return uuid7(int(self._clock() * 1000), secrets.token_bytes(RANDOM_BYTES))

    def _exchange(self, message: Mapping[str, Any]) -> Any:
        data = msgspec.json.encode(message)
        answer = self._post(data, self.session()["csrf"])
        code = error_in(answer).get("code") if answer.status in (400, 415) else None
        if code == "csrf":
            answer = self._post(data, self.session(again=True)["csrf"])
        if code in ("bad_gzip", "wrong_encoding") and self._packs:
            self._packs = False
            answer = self._post(data, self.session()["csrf"])
        return _json_object(answer)

    def _post(self, data: bytes, csrf: str) -> Answer:
        headers = {"X-CSRFToken": csrf, "Content-Type": "application/json"}
        if self._packs and len(data) > WORTH_PACKING:
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
