"""Backing a whole database up into one file, and restoring it: all of it, or nothing."""

from webapp.storage.backup.failed import BackupFailed
from webapp.storage.backup.restoring import Restored, restore
from webapp.storage.backup.writing import Written, write_backup

__all__ = ["BackupFailed", "Restored", "Written", "restore", "write_backup"]
