"""The audit, one chain an organisation. `record(session, organisation, at, Event(...))` adds to it."""

from webapp.storage.audit.record import Event, NoAuditKey, record, record_once
from webapp.storage.audit.words import ACTIONS

__all__ = ["ACTIONS", "Event", "NoAuditKey", "record", "record_once"]
