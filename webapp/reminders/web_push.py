"""One push message (RFC 8030), encrypted for one browser (RFC 8291), signed by the service (RFC 8292)."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from typing import Any

import requests
from py_vapid import Vapid02
from pywebpush import WebPushException, webpush

from webapp.reminders.addresses import BadAddress, Target, check_endpoint
from webapp.reminders.guarded import guarded_session

# A reminder that has not reached the phone by then is of another day.
TTL_SECONDS = 12 * 3600
TIMEOUT_SECONDS = 10.0
# The longest pause we let a push service ask for.
LONGEST_PAUSE = timedelta(hours=24)
# No new attempt changes these answers; the subscription itself is over with the first two.
GONE = frozenset({404, 410})


@dataclass(frozen=True)
class Keys:
    """The service's private VAPID key and the contact that stands in each token, mailto: or https:."""

    private: str
    contact: str


@dataclass(frozen=True)
class Sent:
    """How it went: `done`, `gone` (the subscription is over), `later` (try again), `never` (not this one)."""

    verdict: str
    code: str
    pause: timedelta | None = None


class Sender:
    """Sends to the push services of a list, one message after another."""

    def __init__(self, keys: Keys, hosts: Iterable[str], timeout: float = TIMEOUT_SECONDS) -> None:
        self._hosts = tuple(hosts)
        self.timeout = timeout
        self._contact = keys.contact
        self._key = Vapid02.from_raw(keys.private.encode())
        self._session = guarded_session(self._hosts)

    def send(self, target: Target, message: dict[str, Any], topic: str, now: datetime) -> Sent:
        """Send a message that replaces an undelivered one of the same topic."""
        try:
            check_endpoint(target.endpoint, self._hosts)
            webpush(
                {"endpoint": target.endpoint, "keys": {"p256dh": target.p256dh, "auth": target.auth}},
                data=json.dumps(message, separators=(",", ":")),
                vapid_private_key=self._key,
                vapid_claims={"sub": self._contact},
                ttl=TTL_SECONDS,
                timeout=self.timeout,
                headers={"Topic": topic, "Urgency": "normal"},
                requests_session=self._session,
            )
        except BadAddress:
            return Sent("gone", "address")
        except WebPushException as error:
            return _refused(error, now)
        except (requests.RequestException, OSError) as error:
            return _unreached(error)
        # Keys that are no point of the curve, or no base64: this subscription can never be written to.
        except (ValueError, TypeError):
            return Sent("gone", "keys")
        return Sent("done", "sent")


def _unreached(error: BaseException) -> Sent:
    """What kept us from an answer; a private address hides in the library's own error."""
    seen: BaseException | None = error
    while seen is not None:
        if isinstance(seen, BadAddress):
            return Sent("gone", "address")
        seen = seen.__context__ or seen.__cause__
    return Sent("later", "unreachable")


def _refused(error: WebPushException, now: datetime) -> Sent:
    response = error.response
    status = getattr(response, "status_code", None)
    if status is None:
        return Sent("gone", "keys")
    code = f"status_{status}"
    if status in GONE:
        return Sent("gone", code)
    if status == 429 or status >= 500:
        return Sent("later", code, retry_after(response.headers.get("Retry-After"), now))
    return Sent("never", code)


def retry_after(header: str | None, now: datetime) -> timedelta | None:
    """How long an answer asks to wait: seconds or a date (RFC 9110, 10.2.3); None for neither."""
    if not header:
        return None
    text = header.strip()
    if text.isascii() and text.isdigit():
        return min(timedelta(seconds=min(int(text[:9]), 10**8)), LONGEST_PAUSE)
    try:
        moment = parsedate_to_datetime(text)
    except ValueError:
        return None
    moment = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
    return min(max(moment - now, timedelta()), LONGEST_PAUSE)
