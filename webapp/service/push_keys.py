"""Making the keys that reminders are signed by: `python3 -m webapp.service push-keys`."""

import argparse
from typing import Any

from webapp.reminders.vapid import make_private_key, public_key
from webapp.storage.database import Database


def describe(commands: Any) -> None:
    """Add the command to the parser."""
    command = commands.add_parser("push-keys", help="make the keys that reminders by push are signed by")
    command.set_defaults(run=push_keys)


def push_keys(_database: Database, _options: argparse.Namespace) -> str:
    """Say what to put into the environment; nothing is kept."""
    private = make_private_key()
    return (
        f"LINTEL_PUSH_PRIVATE_KEY={private}\n"
        "LINTEL_PUSH_CONTACT=mailto:...   (how a push service reaches you)\n"
        "Put both into the environment of the web server and of the workers, and keep the first one secret.\n"
        f"Phones are told the public key: {public_key(private)}\n"
        "With other keys every phone has to switch reminders on again."
    )
