"""How the reminders are doing: workers heard of, what waits, what they did. Numbers only."""

from collections import Counter
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from webapp.reminders.outbox import WAITING
from webapp.storage.models import DueChange, PushSubscription, Reminder, WorkerBeat

# After so long without a sign of a worker, or with something overdue in the outbox, somebody should look.
ALIVE = timedelta(minutes=5)
LATE = timedelta(minutes=15)


@dataclass(frozen=True)
class Health:
    """Workers alive, notes to reckon and the age of the oldest in seconds; what waits, what was done."""

    workers: int
    to_reckon: int
    oldest_to_reckon: int
    waiting: int
    late: int
    browsers: int
    done: dict[str, int]

    @property
    def well(self) -> bool:
        """Whether nobody needs to look: there is a worker and it keeps up."""
        return self.workers > 0 and not self.late and self.oldest_to_reckon < LATE.total_seconds()


def health_of(session: Session, now: datetime) -> Health:
    """The state of the reminders of all organisations."""
    beats = session.scalars(select(WorkerBeat)).all()
    due = DueChange.reckon_at <= now
    oldest = session.scalar(select(func.min(DueChange.reckon_at)).where(due))
    done: Counter[str] = Counter()
    for beat in beats:
        done.update(beat.counts)
    waiting = select(func.count()).select_from(Reminder).where(Reminder.state == WAITING)
    return Health(
        workers=sum(now - beat.beat_at < ALIVE for beat in beats),
        to_reckon=session.scalar(select(func.count()).select_from(DueChange).where(due)) or 0,
        oldest_to_reckon=round((now - oldest).total_seconds()) if oldest else 0,
        waiting=session.scalar(waiting) or 0,
        late=session.scalar(waiting.where(Reminder.due_at < now - LATE)) or 0,
        browsers=session.scalar(
            select(func.count()).select_from(PushSubscription).where(PushSubscription.ended_at.is_(None))
        )
        or 0,
        done=dict(done),
    )
