"""Counting tries in the database, so that every worker slows down whoever guesses."""

import hashlib
import ipaddress
from collections.abc import Iterable
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from webapp.storage.models import SignInAttempts

# How many tries go before the first wait, by what is counted. Our choice.
FREE_TRIES = {"name": 5, "address": 20, "emergency": 5, "own": 5, "passkey": 20, "link": 20}
FIRST_DELAY, LONGEST_DELAY = timedelta(seconds=30), timedelta(minutes=15)
FORGET_AFTER = timedelta(hours=1)


class Blocked(Exception):
    """Too many tries: again after some seconds."""

    def __init__(self, seconds: int) -> None:
        super().__init__(seconds)
        self.seconds = seconds


def attempt_key(kind: str, value: str) -> str:
    """The key under which tries are counted: a hash, nothing readable."""
    return hashlib.sha256(f"{kind}:{value}".encode()).hexdigest()


def address_key(kind: str, address: str) -> str:
    """The key for an address. One of IPv6 counts with its whole /64: whoever has one of these has all."""
    try:
        parsed = ipaddress.ip_address(address)
    except ValueError:
        return attempt_key(kind, address)
    if parsed.version == 6 and parsed.ipv4_mapped is None:
        address = str(ipaddress.ip_network((parsed.packed[:8] + bytes(8), 64)))
    return attempt_key(kind, address)


def refuse_blocked(session: Session, keys: Iterable[str], now: datetime) -> None:
    """Raise Blocked when any of some keys has to wait."""
    until = [
        row.blocked_until
        for row in session.scalars(select(SignInAttempts).where(SignInAttempts.key.in_(list(keys))))
        if row.blocked_until is not None and row.blocked_until > now
    ]
    if until:
        raise Blocked(_seconds(max(until), now))


def count_try(session: Session, kind: str, key: str, now: datetime) -> None:
    """Count a try; from the last free one on each makes the next wait, twice as long as before."""
    _count(_counter(session, key, now), kind, now)
    session.flush()


def take_try(session: Session, kind: str, key: str, now: datetime) -> None:
    """Count a try that is about to be made, or raise Blocked; of several at once each is counted before."""
    row = _counter(session, key, now)
    if row.blocked_until is not None and row.blocked_until > now:
        raise Blocked(_seconds(row.blocked_until, now))
    _count(row, kind, now)
    session.flush()


def _seconds(until: datetime, now: datetime) -> int:
    return int((until - now).total_seconds()) + 1


def _count(row: SignInAttempts, kind: str, now: datetime) -> None:
    if now - row.last_at > FORGET_AFTER:
        row.failures = 0
    row.failures, row.last_at = row.failures + 1, now
    over = row.failures - FREE_TRIES[kind]
    if over >= 0:
        row.blocked_until = now + min(FIRST_DELAY * 2 ** min(over, 10), LONGEST_DELAY)


def _counter(session: Session, key: str, now: datetime) -> SignInAttempts:
    try:
        with session.begin_nested():
            session.add(SignInAttempts(key=key, failures=0, last_at=now))
    except IntegrityError:
        pass  # It is there already, perhaps since a moment ago.
    return session.get_one(SignInAttempts, key, with_for_update=True, populate_existing=True)
