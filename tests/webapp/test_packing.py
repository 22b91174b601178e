"""Answers packed with gzip: for those who ask for it, whole or not an answer."""

import gzip
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sync.errors import AnswerError
from sync.packing import WORTH_PACKING, pack, pack_closely, unpack
from sync.transport import LARGEST_ANSWER, Answer, HttpTransport
from tests.webapp.support import House

ASKED = {"Accept-Encoding": "gzip, deflate, br"}


@pytest.fixture
def full(ann):
    """A message whose answer is worth packing."""
    ann.sync(*(ann.entry() for _ in range(20)))
    return ann.message([])


def test_an_answer_is_packed_for_those_who_ask(house: House, ann, full):
    plain, packed = ann.post(full), ann.post(full, headers=ASKED)
    assert (plain.content_encoding, packed.content_encoding) == (None, "gzip")
    assert packed.content_length == len(packed.data) < len(plain.data) / 5
    assert json.loads(gzip.decompress(packed.data))["pull"] == plain.json["pull"]
    assert packed.content_type == "application/json" and "Accept-Encoding" in packed.vary


@pytest.mark.parametrize("asked", ["identity", "br", "gzip;q=0", "*;q=0"])
def test_nobody_gets_gzip_who_did_not_ask(ann, full, asked):
    assert ann.post(full, headers={"Accept-Encoding": asked}).content_encoding is None


@given(st.binary(max_size=2000) | st.text(alphabet="0123456789abcdef-", max_size=2000).map(str.encode))
@pytest.mark.parametrize("packer", [pack, pack_closely])
def test_what_is_packed_is_gzip_for_the_standard_library_too(packer, data):
    """Checked against another implementation: RFC 1952 by Python's own zlib, both ways."""
    assert gzip.decompress(packer(data)) == data == unpack(gzip.compress(data), len(data))


def test_a_short_answer_and_an_error_are_not_packed(ann):
    short = ann.post(ann.message([]), headers=ASKED)
    assert short.content_encoding is None and len(short.data) <= WORTH_PACKING
    assert ann.post(b"{", headers=ASKED).json["error"]["code"] == "malformed"


def test_a_clients_entries_are_packed_too(house: House, ann, full):
    answer = ann.browser.get(f"/api/v1/clients/{house.clients['ann1']}/entries", headers=ASKED)
    assert len(json.loads(gzip.decompress(answer.data))["entries"]) == 20


class Opener:
    """What urllib would give for an answer of this body."""

    def __init__(self, body: bytes) -> None:
        self.body, self.status, self.asked = body, 200, None
        self.headers = {"Content-Encoding": "gzip", "Content-Type": "application/json"}

    def open(self, request, timeout):
        self.asked = request
        return self

    def read(self, most: int) -> bytes:
        return self.body[:most]

    def __enter__(self):
        return self

    def __exit__(self, *_) -> None:
        pass


def asked_for(body: bytes) -> Answer:
    transport = HttpTransport("http://127.0.0.1:1")
    transport._opener = Opener(body)
    answer = transport.get("/")
    assert transport._opener.asked.get_header("Accept-encoding") == "gzip"
    return answer


def test_the_python_client_asks_for_gzip_and_unpacks_it():
    assert asked_for(gzip.compress(b'{"a":1}')).json() == {"a": 1}


@pytest.mark.parametrize(
    "body",
    [
        gzip.compress(b'{"a":1}')[:-1],
        gzip.compress(b'{"a":1}')[:12],
        gzip.compress(b'{"a":1}') + b"more",
        b'{"a":1}',
        b"",
        gzip.compress(b" " * (LARGEST_ANSWER + 1)),
    ],
    ids=["the end is missing", "cut in the middle", "more behind it", "not packed", "empty", "too large"],
)
def test_a_cut_or_swollen_gzip_is_no_answer(body):
    with pytest.raises(AnswerError):
        asked_for(body)
