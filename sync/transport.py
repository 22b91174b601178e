"""HTTP for the client: requests with a cookie jar, a deadline, and answers read whole or not at all."""

import http.client
import urllib.error
import urllib.request
from collections.abc import Mapping
from dataclasses import dataclass
from http.cookiejar import CookieJar, DefaultCookiePolicy
from typing import Any, Protocol
from urllib.parse import urlencode

import msgspec

from sync.errors import AnswerError, MessageError
from sync.packing import unpack

DEADLINE_SECONDS = 60.0
LARGEST_ANSWER = 16 * 1024 * 1024


@dataclass(frozen=True)
class Answer:
    """Status, headers (lower-case names) and the whole body of an answer."""

    status: int
    headers: Mapping[str, str]
    body: bytes

    def text(self) -> str:
        """The body as text."""
        return self.body.decode("utf-8", "replace")

    def json(self) -> Any:
        """The body as JSON; AnswerError when it does not say it is JSON or is not."""
        if self.headers.get("content-type", "").split(";")[0].strip() != "application/json":
            raise AnswerError("the answer is not JSON")
        try:
            return msgspec.json.decode(self.body)
        except (ValueError, RecursionError) as error:
            raise AnswerError("the answer is cut or garbled") from error

    def retry_after(self) -> float | None:
        """The seconds the server asks to wait, if it does."""
        text = self.headers.get("retry-after", "")
        return float(text) if text.isdecimal() else None


class Transport(Protocol):
    """How the client reaches a server; a test can put faults in between."""

    def get(self, path: str) -> Answer:
        """Fetch something."""

    def form(self, path: str, fields: Mapping[str, str]) -> Answer:
        """Send a form."""

    def post(self, path: str, data: bytes, headers: Mapping[str, str]) -> Answer:
        """Send bytes."""


class HttpTransport:
    """A transport over urllib for one server."""

    def __init__(self, url: str, deadline: float = DEADLINE_SECONDS) -> None:
        self._url, self._deadline = url.rstrip("/"), deadline
        jar = CookieJar(DefaultCookiePolicy())
        self._opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(jar), _NoRedirect())

    def get(self, path: str) -> Answer:
        """Fetch something."""
        return self._send(urllib.request.Request(self._url + path))

    def form(self, path: str, fields: Mapping[str, str]) -> Answer:
        """Send a form."""
        return self.post(
            path, urlencode(fields).encode(), {"Content-Type": "application/x-www-form-urlencoded"}
        )

    def post(self, path: str, data: bytes, headers: Mapping[str, str]) -> Answer:
        """Send bytes."""
        # Over TLS the server wants to see that a request comes from its own pages.
        own = {"Origin": self._url, "Referer": self._url + "/"}
        return self._send(urllib.request.Request(self._url + path, data, {**own, **headers}, method="POST"))

    def _send(self, request: urllib.request.Request) -> Answer:
        request.add_header("Accept-Encoding", "gzip")
        try:
            with self._opener.open(request, timeout=self._deadline) as response:
                return _read(response)
        except urllib.error.HTTPError as error:
            with error:
                return _read(error)
        except (OSError, http.client.HTTPException) as error:
            raise AnswerError(f"no answer: {type(error).__name__}") from error


class _NoRedirect(urllib.request.HTTPRedirectHandler):
    """A redirect is an answer; nothing is sent on to wherever it points."""

    def redirect_request(self, *_args: Any, **_kwargs: Any) -> None:
        return None


def _read(response: Any) -> Answer:
    body = response.read(LARGEST_ANSWER + 1)
    expected = response.headers.get("Content-Length")
    if len(body) > LARGEST_ANSWER or (expected is not None and expected.strip() != str(len(body))):
        raise AnswerError("the answer is cut or too large")
    headers = {name.lower(): value for name, value in response.headers.items()}
    if headers.get("content-encoding") == "gzip":
        body = _unpacked(body)
    return Answer(response.status, headers, body)


def _unpacked(body: bytes) -> bytes:
    try:
        return unpack(body, LARGEST_ANSWER)
    except MessageError as error:
        raise AnswerError("the answer is cut, garbled or too large") from error
