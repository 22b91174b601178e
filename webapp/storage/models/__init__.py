"""The tables, one file a family. The organisation stands in every key and every reference."""

from webapp.storage.models.audit import AuditRow
from webapp.storage.models.base import Base
from webapp.storage.models.clients import Caseload, Client
from webapp.storage.models.credentials import Passkey, PasskeyChallenge, PasswordLink
from webapp.storage.models.emergency import ClientKey, EmergencyAccess, EmergencySeen
from webapp.storage.models.entries import Device, Entry, Holding
from webapp.storage.models.erasure import ErasedEntry, Tombstone
from webapp.storage.models.people import ROLES, Organisation, SignIn, SignInAttempts, User
from webapp.storage.models.reminders import (
    Due,
    DueChange,
    PushSubscription,
    Reminder,
    ReminderHabits,
    WorkerBeat,
)
from webapp.storage.models.teams import PARTS, Team, TeamMember

__all__ = [
    "PARTS",
    "ROLES",
    "AuditRow",
    "Base",
    "Caseload",
    "Client",
    "ClientKey",
    "Device",
    "Due",
    "DueChange",
    "EmergencyAccess",
    "EmergencySeen",
    "Entry",
    "ErasedEntry",
    "Holding",
    "Organisation",
    "Passkey",
    "PasskeyChallenge",
    "PasswordLink",
    "PushSubscription",
    "Reminder",
    "ReminderHabits",
    "SignIn",
    "SignInAttempts",
    "Team",
    "TeamMember",
    "Tombstone",
    "User",
    "WorkerBeat",
]
