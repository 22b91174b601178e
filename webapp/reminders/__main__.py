"""`python3 -m webapp.reminders`: the worker of a service. Run one or several, beside the web server."""

import argparse
import signal
import sys
from collections.abc import Sequence
from datetime import timedelta
from threading import Event

from webapp.config import SettingsError, from_environment
from webapp.logs import log_to_stderr
from webapp.reminders.outbox import LEASE
from webapp.reminders.sending import Share
from webapp.reminders.web_push import TIMEOUT_SECONDS
from webapp.reminders.worker import PAUSE_SECONDS
from webapp.reminders.worker_of import worker_of
from webapp.storage.database import Database


def main(arguments: Sequence[str] | None = None) -> int:
    """Work until told to stop, or once; what to tell the shell."""
    options = _parser().parse_args(arguments)
    try:
        settings = from_environment()
    except SettingsError as error:
        print(error, file=sys.stderr)
        return 1
    log_to_stderr()
    database = Database(settings.database_url, settings.secret_key, settings.old_secret_keys)
    share = Share(lease=timedelta(seconds=options.lease), timeout=options.timeout)
    worker = worker_of(database, settings, share)
    try:
        if options.once:
            worker.once()
        else:
            worker.run(_stopped_by_signal(), options.pause)
    finally:
        database.dispose()
    return 0


def _stopped_by_signal() -> Event:
    stop = Event()
    for each in (signal.SIGINT, signal.SIGTERM):
        signal.signal(each, lambda *_: stop.set())
    return stop


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python3 -m webapp.reminders", description=__doc__)
    parser.add_argument("--once", action="store_true", help="do what there is to do now, then end")
    parser.add_argument(
        "--pause", type=float, default=PAUSE_SECONDS, metavar="SECONDS", help="between two looks"
    )
    parser.add_argument(
        "--lease",
        type=float,
        default=LEASE.total_seconds(),
        metavar="SECONDS",
        help="after which another worker takes over what a dead one held",
    )
    parser.add_argument(
        "--timeout",
        type=float,
        default=TIMEOUT_SECONDS,
        metavar="SECONDS",
        help="to reach a push service, and to be answered",
    )
    return parser


if __name__ == "__main__":
    sys.exit(main())
