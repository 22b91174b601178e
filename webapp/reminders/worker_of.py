"""A worker made as the settings say."""

import logging

from webapp.config import Settings
from webapp.reminders.addresses import USUAL_HOSTS
from webapp.reminders.due_days import reckon
from webapp.reminders.sending import USUAL_SHARE, Share
from webapp.reminders.web_push import Keys, Sender
from webapp.reminders.worker import Worker
from webapp.storage.database import Database

log = logging.getLogger("lintel")


def worker_of(database: Database, settings: Settings, share: Share = USUAL_SHARE) -> Worker:
    """A worker as the settings say: without keys it reckons and sends nothing."""
    sender = None
    if settings.push_private_key:
        keys = Keys(settings.push_private_key, settings.push_contact)
        sender = Sender(keys, settings.push_hosts or USUAL_HOSTS, share.timeout)
    else:
        log.warning("no_push_keys")
    return Worker(database, reckon, sender, settings.clock, share)
