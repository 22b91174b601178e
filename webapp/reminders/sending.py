"""Sending what was claimed: to every browser of the person that has not got it, then settling it."""

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from datetime import datetime, timedelta
from time import monotonic, sleep
from typing import Any, Protocol

from sqlalchemy.exc import OperationalError
from sqlalchemy.orm import Session

from webapp.reminders.addresses import Target
from webapp.reminders.moments import in_hours, next_working_moment
from webapp.reminders.outbox import (
    EMPTY,
    FAILED,
    LEASE,
    NOBODY,
    SENT,
    WAITING,
    Claimed,
    Outcome,
    claim,
    habits_of,
    retry_at,
    settle,
    spans_of,
)
from webapp.reminders.subscriptions import end_subscription, live_targets, note_sent
from webapp.reminders.web_push import TIMEOUT_SECONDS, Sent
from webapp.storage.database import Database
from webapp.storage.models import ReminderHabits

# The same for every reminder: a newer one takes the place of one that has not reached the phone.
TOPIC = "due"
LEFT = Sent("later", "lease_too_short")


class Sends(Protocol):
    """What sends one message."""

    def send(self, target: Target, message: dict[str, Any], topic: str, now: datetime) -> Sent:
        """Send it; how it went."""
        ...


@dataclass(frozen=True)
class Ready:
    """A claimed reminder with what it says and to whom; or with the outcome it has without being sent."""

    claimed: Claimed
    count: int = 0
    targets: Sequence[Target] = ()
    outcome: Outcome | None = None


@dataclass(frozen=True)
class Share:
    """What one worker takes at a time: up to so many, for so long; seconds to connect, and to be answered."""

    most: int = 50
    lease: timedelta = LEASE
    timeout: float = TIMEOUT_SECONDS


USUAL_SHARE = Share()


def send_due(
    database: Database, sender: Sends | None, worker: str, share: Share, now: datetime, pool: Executor
) -> list[Outcome]:
    """Claim what is due, send it, settle it; the outcomes. Without a sender nobody is reached by push."""
    # A message is sent only while the lease is sure to outlast it; the rest is left to the next claim.
    until = monotonic() + share.lease.total_seconds() - 2 * share.timeout
    with database.writing() as session:
        claimed = claim(session, worker, now, share.most, share.lease)
    with database.reading() as session:
        ready = [_ready(session, each, sender is not None, now) for each in claimed]

    def send(each: Ready, target: Target) -> Sent:
        return _send(sender, each, target, now) if monotonic() < until else LEFT

    answers = _answers(ready, send, pool)
    outcomes = [each.outcome or _outcome(each, answers[each.claimed.id], now) for each in ready]

    def settled(session: Session) -> None:
        # Together: a commit for each takes longer than sending it. What a crash undoes is sent once more.
        settle(session, worker, list(zip(claimed, outcomes, strict=True)), now)
        for each in claimed:
            _note(session, each, answers[each.id], now)

    _patiently(database, settled, until)
    return outcomes


def _answers(
    ready: Sequence[Ready], send: Callable[[Ready, Target], Sent], pool: Executor
) -> dict[str, list[tuple[Target, Sent]]]:
    """What each browser's push service answered, by reminder."""
    jobs = [(each, target) for each in ready for target in each.targets]
    answers: dict[str, list[tuple[Target, Sent]]] = {each.claimed.id: [] for each in ready}
    for (each, target), answer in zip(jobs, pool.map(lambda job: send(*job), jobs), strict=True):
        answers[each.claimed.id].append((target, answer))
    return answers


def _patiently(database: Database, work: Callable[[Session], None], until: float) -> None:
    """Write something, again while the database is busy: what is not written down would be sent again."""
    while True:
        try:
            with database.writing() as session:
                return work(session)
        except OperationalError:
            if monotonic() > until:
                raise
            sleep(0.2)


def _ready(session: Session, claimed: Claimed, can_send: bool, now: datetime) -> Ready:
    row = session.get(ReminderHabits, (claimed.organisation, claimed.user))
    if row is None:
        return Ready(claimed, outcome=Outcome(EMPTY, "no_habits", tried=False))
    habits = habits_of(row)
    if not in_hours(habits, now):
        # After an outage nobody is woken at night: it comes with the next reminder's time of day.
        later = next_working_moment(habits, now) if habits.days else None
        return Ready(claimed, outcome=Outcome(EMPTY, "out_of_hours", again_at=later, tried=False))
    today = habits.day_of(now)
    count = sum(span.from_on <= today for span in spans_of(session, row, now))
    if not count:
        return Ready(claimed, outcome=Outcome(EMPTY, "nothing_due", tried=False))
    targets = live_targets(session, claimed.organisation, claimed.user) if can_send else []
    left = [target for target in targets if target.hash not in claimed.sent_to]
    if not left:
        state = SENT if claimed.sent_to else NOBODY
        return Ready(claimed, outcome=Outcome(state, "no_browser", tried=False))
    return Ready(claimed, count, left)


def _send(sender: Sends | None, ready: Ready, target: Target, now: datetime) -> Sent:
    if sender is None:
        return Sent("never", "no_keys")
    # Whoever holds the number of a reminder may ask for it once more: nobody has to sign in for that.
    message = {"k": "reminder", "n": ready.count, "again": ready.claimed.id}
    return sender.send(target, message, TOPIC, now)


def _outcome(ready: Ready, answers: list[tuple[Target, Sent]], now: datetime) -> Outcome:
    done = tuple(target.hash for target, answer in answers if answer.verdict == "done")
    if any(answer is LEFT for _, answer in answers):
        return Outcome(WAITING, LEFT.code, done, now, tried=False)
    later = [answer for _, answer in answers if answer.verdict == "later"]
    code = next((answer.code for _, answer in answers if answer.verdict != "done"), None)
    if later:
        pauses = [answer.pause for answer in later if answer.pause is not None]
        again = retry_at(ready.claimed.attempts, now, max(pauses, default=None))
        if again is not None:
            return Outcome(WAITING, code, done, again)
    reached = done or ready.claimed.sent_to
    return Outcome(SENT if reached else FAILED, code, done)


def _note(session: Session, claimed: Claimed, answers: list[tuple[Target, Sent]], now: datetime) -> None:
    for target, answer in answers:
        if answer.verdict == "gone":
            end_subscription(session, claimed.organisation, target.hash, answer.code, now)
        elif answer.verdict == "done":
            note_sent(session, claimed.organisation, target.hash, now)
