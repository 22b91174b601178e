"""The tables, one file a family. The organisation stands in every key and every reference."""

from webapp.storage.models.base import Base
from webapp.storage.models.clients import Caseload, Client
from webapp.storage.models.entries import Device, Entry, Holding
from webapp.storage.models.people import ROLES, Organisation, SignIn, SignInAttempts, User

__all__ = [
    "ROLES",
    "Base",
    "Caseload",
    "Client",
    "Device",
    "Entry",
    "Holding",
    "Organisation",
    "SignIn",
    "SignInAttempts",
    "User",
]
