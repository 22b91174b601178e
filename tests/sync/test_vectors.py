"""The vectors of tests/vectors/sync, in Python; the browser's code runs the same files."""

import hashlib
import json
from pathlib import Path

import pytest

from sync import strict_json
from sync.canonical import canonical, entry_hash
from sync.errors import AnswerError, MessageError, ServerRefused, SignInNeeded
from sync.messages import parse_request, request_json
from sync.refusals import is_for_content, refusal_in
from sync.replies import parse_reply
from sync.transport import Answer
from sync.uuid7 import milliseconds_of, uuid7

FOLDER = Path(__file__).parents[1] / "vectors" / "sync"


def vectors(file: str, group: str = "cases"):
    cases = json.loads((FOLDER / f"{file}.json").read_text("utf-8"))[group]
    assert len({case["description"] for case in cases}) == len(cases)
    return [pytest.param(case, id=case["description"]) for case in cases]


@pytest.mark.parametrize("case", vectors("canonical"))
def test_canonical_text(case):
    assert canonical(case["value"]) == case["canonical"]
    assert hashlib.sha256(case["canonical"].encode()).hexdigest() == case["sha256"]


@pytest.mark.parametrize("case", vectors("canonical", "refused"))
def test_what_has_no_canonical_text(case):
    with pytest.raises(MessageError) as found:
        canonical(strict_json.parse(case["json"].encode()))
    assert (found.value.code, found.value.field) == (case["code"], case["field"])


@pytest.mark.parametrize("case", vectors("entry_hash"))
def test_entry_hash(case):
    own = {key: value for key, value in case["entry"].items() if key not in ("seq", "received_at")}
    assert canonical(own) == case["canonical"]
    assert entry_hash(case["entry"]) == case["sha256"]


@pytest.mark.parametrize("case", vectors("uuid7"))
def test_uuid7(case):
    assert uuid7(case["milliseconds"], bytes.fromhex(case["random"])) == case["uuid"]
    assert milliseconds_of(case["uuid"]) == case["milliseconds"]


@pytest.mark.parametrize("case", vectors("messages", "requests"))
def test_requests(case):
    if case["valid"]:
        known = set(request_json(parse_request(case["message"])))
        assert request_json(parse_request(case["message"])) == {
            key: value for key, value in case["message"].items() if key in known
        }
        return
    with pytest.raises(MessageError) as found:
        parse_request(case["message"])
    assert (found.value.code, found.value.field) == (case["code"], case["field"])


@pytest.mark.parametrize("case", vectors("messages", "replies"))
def test_replies(case):
    if case["valid"]:
        reply = parse_reply(case["message"], len(case["sent"]), case.get("returned", 0))
        assert reply.epoch == case["message"]["epoch"]
        return
    with pytest.raises(AnswerError):
        parse_reply(case["message"], len(case["sent"]), case.get("returned", 0))


@pytest.mark.parametrize("case", vectors("refusals"))
def test_refusals_of_a_whole_request(case):
    refusal = refusal_in(Answer(case["status"], {"content-type": case["type"]}, case["body"].encode()))
    asks = isinstance(refusal, SignInNeeded)
    content = isinstance(refusal, ServerRefused) and is_for_content(refusal)
    assert (asks, content) == (case["means"] == "sign_in", case["means"] == "content")
