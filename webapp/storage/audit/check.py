"""Checking a chain: the first row that is not as it was written, or is not there any more."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sqlalchemy import ScalarResult, select
from sqlalchemy.orm import Session

from webapp.storage.audit.chain import GENESIS, Keys, columns_of
from webapp.storage.models import AuditRow, Organisation


@dataclass(frozen=True)
class Anchor:
    """The head of a chain at some moment, kept where whoever changes the database cannot reach it."""

    organisation: str
    seq: int
    hash: str


@dataclass(frozen=True)
class Checked:
    """What a check found: how many rows stand, the first fault in words, rows whose key is not here."""

    rows: int
    fault: str | None = None
    unchecked: Mapping[str, tuple[int, int]] | None = None


def anchor_of(organisation: Organisation) -> Anchor:
    """The head of an organisation's chain now."""
    return Anchor(organisation.id, organisation.audit_seq, organisation.audit_hash)


def check_chain(
    session: Session, organisation: Organisation, keys: Keys, anchors: Iterable[Anchor] = ()
) -> Checked:
    """Go through an organisation's chain from its first row to its head and past every anchor of it."""
    kept = {anchor.seq: anchor.hash for anchor in anchors if anchor.organisation == organisation.id}
    seq, last, unchecked = 0, GENESIS, {}
    with _rows(session, organisation.id) as rows:
        for row in rows:
            fault = _fault(row, seq, last, keys) or _off_anchor(row, kept)
            if fault:
                return Checked(seq, fault, unchecked)
            if row.key_id not in keys.every:
                unchecked[row.key_id] = (unchecked.get(row.key_id, (row.seq, 0))[0], row.seq)
            seq, last = row.seq, row.hash
    return Checked(seq, _tail_fault(organisation, seq, last, kept), unchecked)


def _rows(session: Session, organisation: str) -> ScalarResult[AuditRow]:
    query = select(AuditRow).where(AuditRow.organisation_id == organisation).order_by(AuditRow.seq)
    return session.scalars(query.execution_options(yield_per=1000))


def _fault(row: AuditRow, seq: int, last: str, keys: Keys) -> str | None:
    if row.seq != seq + 1:
        return f"{_span(seq + 1, row.seq - 1)} deleted"
    own = keys.seal(columns_of(row))
    if own is not None and own != row.hash:
        return f"row {row.seq} was edited"
    if row.prev_hash != last:
        return f"row {row.seq} does not follow row {seq}: one of them was put in place of another"
    return None


def _off_anchor(row: AuditRow, kept: Mapping[int, str]) -> str | None:
    if kept.get(row.seq, row.hash) == row.hash:
        return None
    return f"row {row.seq} is not the one that was anchored: it, or rows before it, were written anew"


def _tail_fault(organisation: Organisation, seq: int, last: str, kept: Mapping[int, str]) -> str | None:
    reached = max([organisation.audit_seq, *kept])
    if reached > seq:
        return f"the end is cut off: {_span(seq + 1, reached)} deleted"
    if organisation.audit_seq != seq or (seq and organisation.audit_hash != last):
        return f"the head names row {organisation.audit_seq}, the last row is {seq}: rows were put behind it"
    return None


def _span(low: int, high: int) -> str:
    return f"row {low} was" if low == high else f"rows {low} to {high} were"
