"""Which of the numbers that a device gave out are not here: they wait on the device, or were lost with it.

They are told as spans, and the database finds them: a device may have given out any amount of numbers, and
may claim to have given out more than there is memory for.
"""

import json
from collections.abc import Collection, Iterable, Iterator, Mapping

from sqlalchemy import CompoundSelect, and_, func, literal, select, union
from sqlalchemy.orm import Session

from webapp.storage.models import Device, Entry, ErasedEntry, Holding

# The first and the last number of each run.
Spans = tuple[tuple[int, int], ...]


def missing_spans(session: Session, devices: Collection[Device]) -> Mapping[tuple[str, str], Spans]:
    """What is missing of some devices of one organisation, by user and device; of most there is nothing."""
    here = _amounts(session, devices)
    found = {}
    for device in devices:
        if here.get((device.user_id, device.id), 0) < device.last_device_seq:
            found[device.user_id, device.id] = _gaps(session, device)
    return found


def amount(spans: Spans) -> int:
    """How many numbers some spans hold."""
    return sum(last - first + 1 for first, last in spans)


def not_aside(session: Session, device: Device, spans: Spans) -> Spans:
    """Of what is missing of a device, what is not even set aside here."""
    rows = select(Holding.raw).where(
        Holding.organisation_id == device.organisation_id,
        Holding.user_id == device.user_id,
        Holding.device_id == device.id,
        Holding.settled_at.is_(None),
    )
    items = (json.loads(raw) for raw in session.scalars(rows))
    told = (str(item.get("device_seq")) for item in items if isinstance(item, dict))
    return tuple(_without(spans, {int(each) for each in told if each.isascii() and each.isdecimal()}))


def _amounts(session: Session, devices: Collection[Device]) -> Mapping[tuple[str, str], int]:
    """How many different numbers that a device says it gave out are in the log."""
    same = and_(
        Device.organisation_id == Entry.organisation_id,
        Device.user_id == Entry.author_id,
        Device.id == Entry.device_id,
    )
    rows = session.execute(
        select(Entry.author_id, Entry.device_id, func.count(Entry.device_seq.distinct()))
        .join(Device, same)
        .where(
            Entry.organisation_id.in_({device.organisation_id for device in devices}),
            Entry.author_id.in_({device.user_id for device in devices}),
            Entry.device_seq.between(1, Device.last_device_seq),
        )
        .group_by(Entry.author_id, Entry.device_id)
    )
    return {(user, device): count for user, device, count in rows}


def _gaps(session: Session, device: Device) -> Spans:
    number = _numbers(device).subquery().c[0]
    before = func.coalesce(func.lag(number).over(order_by=number), 0)
    steps = select(before.label("before"), number.label("number")).subquery()
    rows = session.execute(
        select(steps.c.before + 1, steps.c.number - 1)
        .where(steps.c.number > steps.c.before + 1)
        .order_by(steps.c.number)
    )
    return tuple((first, last) for first, last in rows)


def _numbers(device: Device) -> CompoundSelect[tuple[int]]:
    """The numbers of a device that are here or were erased, and the one it gives out next."""
    kept, gone = (
        select(kind.device_seq).where(
            kind.organisation_id == device.organisation_id,
            kind.author_id == device.user_id,
            kind.device_id == device.id,
            kind.device_seq.between(1, device.last_device_seq),
        )
        for kind in (Entry, ErasedEntry)
    )
    return union(kept, gone, select(literal(device.last_device_seq + 1, Entry.device_seq.type)))


def _without(spans: Spans, numbers: Iterable[int]) -> Iterator[tuple[int, int]]:
    ordered = sorted(numbers)
    for first, last in spans:
        for number in ordered:
            if first <= number <= last:
                if first < number:
                    yield first, number - 1
                first = number + 1
        if first <= last:
            yield first, last
