"""What must hold of every answer: its shape, its words, and what the server holds afterwards."""

import re
from typing import Any

from jsonschema import Draft202012Validator, FormatChecker
from referencing import Registry, Resource
from referencing.jsonschema import DRAFT202012
from sqlalchemy import select, text

from sync.messages import SETTLED
from tests.webapp.support import House
from webapp.errors import CODES
from webapp.storage.holding import KEPT
from webapp.storage.models import Base, Entry, Organisation

SENTENCE = re.compile(r"[A-Z].*[.?]", re.DOTALL)
# Of the log what tells its entries apart is enough. The others note that somebody asked, also in vain.
APART = {"entries", "organisations", "sessions", "sign_in_attempts", "audit"}
TABLES = tuple(sorted(set(Base.metadata.tables) - APART))
# What follows from entries that were taken: who they are about is found, and what is due is reckoned.
FOLLOWS = ("client_keys", "due_changes")


class Watch:
    """A house whose tables are looked at before and after each request."""

    def __init__(self, house: House) -> None:
        self.house = house
        document = house.phone("ann").browser.get("/api/v1/openapi.json").json
        self.paths = document["paths"]
        resource = Resource(contents=document, specification=DRAFT202012)
        self.registry = Registry().with_resource("urn:api", resource)

    def rows(self) -> dict[str, list[Any]]:
        """Everything in the tables that a request could change."""
        with self.house.database.reading() as session:
            found = {
                table: sorted(map(repr, session.execute(text(f"SELECT * FROM {table}")))) for table in TABLES
            }
            log = session.execute(select(Entry.id, Entry.seq, Entry.hash).order_by(Entry.seq))
            counters = session.execute(select(Organisation.id, Organisation.head, Organisation.epoch))
            return found | {
                "entries": [tuple(row) for row in log],
                "organisations": sorted(map(repr, counters)),
            }

    def fits(self, name: str, value: Any) -> None:
        """The value is what the API's description says."""
        schema = {"$ref": f"urn:api#/components/schemas/{name}"}
        check = Draft202012Validator(schema, registry=self.registry, format_checker=FormatChecker())
        assert [error.message for error in check.iter_errors(value)] == []

    def error(self, answer: Any) -> str:
        """An error as it is described: a code that is known, a sentence for a person. The code."""
        assert answer.content_type == "application/json", answer.text
        return self.told(answer.status_code, answer.json)

    def told(self, status: int, body: Any) -> str:
        """The same of a status and a body."""
        self.fits("Error", body)
        error = body["error"]
        assert set(body) == {"error"} and set(error) == {"code", "field", "message"}
        assert CODES[error["code"]][0] == status
        assert SENTENCE.fullmatch(error["message"]) and len(error["message"].split()) >= 4
        return error["code"]

    def documented(self, path: str, method: str, status: int) -> None:
        """The description names this status for this address."""
        assert str(status) in self.paths[path][method]["responses"], f"{status} is not described"

    def sync(self, phone: Any, data: bytes, **options: Any) -> Any:
        """Send anything to the sync address; the reply, or None when the whole request was refused."""
        before = self.rows()
        answer = phone.post(data, **options)
        after = self.rows()
        assert answer.status_code < 500, answer.text
        self.documented("/api/v1/sync", "post", answer.status_code)
        if answer.status_code != 200:
            self.error(answer)
            assert after == before
            return None
        self.fits("SyncReply", answer.json)
        self.effect(answer.json, before, after)
        phone.after = max(phone.after, answer.json["pull"]["after"])  # or each page is as long as the log
        return answer.json

    def effect(self, reply: Any, before: dict[str, list[Any]], after: dict[str, list[Any]]) -> None:
        """Exactly what was answered "applied" is new in the log; only what is held is new in the holding."""
        verdicts = [*reply["verdicts"], *reply.get("returned", [])]
        new = after["entries"][len(before["entries"]) :]
        assert after["entries"][: len(before["entries"])] == before["entries"]
        applied = [(one["id"], one["seq"]) for one in verdicts if one["verdict"] == "applied"]
        assert sorted(applied) == sorted((own, seq) for own, seq, _hash in new)
        held = [verdict for verdict in verdicts if verdict["verdict"] in KEPT]
        assert len(after["holding"]) - len(before["holding"]) <= len(held)
        assert len(after["holding"]) >= len(before["holding"])
        assert len(after["devices"]) - len(before["devices"]) in (0, 1)
        may_change = {"entries", "holding", "devices", "organisations", *(FOLLOWS if applied else ())}
        assert {table for table in after if after[table] != before[table]} <= may_change
        if not applied:
            assert after["organisations"] == before["organisations"], "the counter moved"
        for verdict in verdicts:
            told = verdict["verdict"] in SETTLED or SENTENCE.fullmatch(verdict.get("message", ""))
            assert told, verdict
