"""Serve the demo on this computer: its own folder with database and secret, filled on the first start."""

import argparse
import logging
import os
import secrets
import signal
import socket
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path
from threading import Event, Thread

import waitress

from demo_home_visits.build import build
from demo_home_visits.fill import fill
from demo_home_visits.people import PASSWORD, sign_ins
from demo_home_visits.private_environment import WORK
from webapp import create_app
from webapp.config import Settings
from webapp.reminders.vapid import make_private_key
from webapp.reminders.worker_of import worker_of
from webapp.storage.database import Database
from webapp.storage.switches import find_organisation, switch
from webapp.storage.upgrade import upgrade

HOST = "127.0.0.1"
PORT = 8470
PORTS_TRIED = 50
THREADS = 8
DATABASE = "demo.sqlite3"
FILLED_ON = "filled_on"
CAUTION = "Everybody in here is invented. The password is public: never put a real person's record in."


def main(arguments: list[str] | None = None) -> None:
    """Serve until Ctrl-C."""
    try:
        serve(parse(arguments))
    except KeyboardInterrupt:
        pass
    print("Stopped.")


def serve(options: argparse.Namespace) -> None:
    """Make sure of folder, database and secret, then answer requests for as long as it lasts."""
    stop_politely()
    database = prepare(options.folder, options.fresh)
    if options.early_warning:
        show_early_warning(database)
    settings = settings_for(options, database)
    app = create_app(settings)
    # A line for every request would push address and sign-ins off the screen; warnings still show.
    logging.getLogger("lintel").setLevel(logging.WARNING)
    with listen(options.port, 1 if options.no_search else PORTS_TRIED) as listener:
        greet(listener.getsockname()[1])
        with reminding(settings):
            waitress.serve(app, sockets=[listener], threads=THREADS, ident=None)


def settings_for(options: argparse.Namespace, database: Path) -> Settings:
    """Return the settings of the demo in a folder, whose secrets are made on the first start."""
    folder: Path = options.folder
    return Settings(
        database_url=url_of(database),
        secret_key=secret(folder),
        push_private_key=kept(folder / "push_key", make_private_key),
        push_contact="mailto:nobody@example.org",
        push_hosts=tuple(options.push_host),
        demo=True,
    )


@contextmanager
def reminding(settings: Settings) -> Iterator[None]:
    """Have a worker reckon due dates and send reminders meanwhile; a service runs it as its own process."""
    database, stop = Database(settings.database_url, settings.secret_key), Event()
    worker = Thread(target=worker_of(database, settings).run, args=(stop,), daemon=True)
    worker.start()
    try:
        yield
    finally:
        stop.set()
        worker.join(timeout=10)
        database.dispose()


def prepare(folder: Path, fresh: bool) -> Path:
    """Return the database of this folder, filled if it was missing, and brought up to date."""
    today = datetime.now().astimezone().date()
    folder.mkdir(parents=True, exist_ok=True)
    database = folder / DATABASE
    if fresh:
        start_over(database)
    if not database.exists():
        make_database(database, today)
    upgrade(url_of(database))
    say_if_old(folder, today)
    return database


def parse(arguments: list[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python3 -m demo_home_visits", description=__doc__)
    parser.add_argument(
        "--fresh", action="store_true", help="start over: forget the demo database, fill a new one"
    )
    parser.add_argument(
        "--port", type=int, default=PORT, help=f"port to listen on, {PORT} or the next free one"
    )
    parser.add_argument("--folder", type=Path, default=WORK, help="where database and secret lie")
    parser.add_argument(
        "--early-warning", action="store_true", help="show the early-warning total, until --fresh starts over"
    )
    parser.add_argument("--no-search", action="store_true", help="give up when the port is taken")
    parser.add_argument(
        "--push-host", action="append", default=[], metavar="HOST", help="send reminders there, for tests"
    )
    return parser.parse_args(arguments)


def start_over(database: Path) -> None:
    for ending in ("", "-wal", "-shm"):
        database.with_name(database.name + ending).unlink(missing_ok=True)


def make_database(database: Path, today: date) -> None:
    """Fill a database beside the final name, so that an interrupted start leaves none half filled."""
    print("Filling the demo database with invented people ...", flush=True)
    draft = database.with_name("draft.sqlite3")
    start_over(draft)
    upgrade(url_of(draft))
    opened = Database(url_of(draft), secret(database.parent))
    fill(opened, build(today))
    opened.dispose()
    os.replace(draft, database)
    (database.parent / FILLED_ON).write_text(today.isoformat(), encoding="ascii")


def show_early_warning(database: Path) -> None:
    """Switch the early-warning total on, as a service may; the demo begins without it, as Lintel does."""
    opened = Database(url_of(database), secret(database.parent))
    with opened.reading() as session:
        organisation = find_organisation(session).id
    switch(opened, organisation, "early_warning", True)
    opened.dispose()


def say_if_old(folder: Path, today: date) -> None:
    """Say when "today's" visits of the demo are those of another day."""
    filled_on = (folder / FILLED_ON).read_text(encoding="ascii") if (folder / FILLED_ON).exists() else ""
    if filled_on and filled_on != today.isoformat():
        print(
            f"These visits were planned for {filled_on}. Start with --fresh to have them planned for today."
        )


def stop_politely() -> None:
    """Let Ctrl-C and a plain kill end the server in order, also one that was started in the background."""
    for sign in (signal.SIGINT, signal.SIGTERM):
        signal.signal(sign, signal.default_int_handler)


def url_of(database: Path) -> str:
    return f"sqlite:///{database.resolve()}"


def secret(folder: Path) -> str:
    """Return the folder's own secret."""
    return kept(folder / "secret", lambda: secrets.token_urlsafe(48))


def kept(path: Path, make: Callable[[], str]) -> str:
    """Return what a file keeps, made on the first start and readable by its owner only."""
    if not path.exists():
        with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as new:
            new.write(make())
    return path.read_text(encoding="ascii")


def listen(port: int, tries: int) -> socket.socket:
    """Return a listening socket on this port or the next free one."""
    for candidate in range(port, port + tries):
        listener = socket.socket()
        # Lets a restart take its port at once; on Windows the option would let two servers share it.
        if os.name != "nt":
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((HOST, candidate))
            return listener
        except OSError:
            listener.close()
    raise SystemExit(f"No port is free from {port} on. Name another with --port.")


def greet(port: int) -> None:
    """Print where to go, who can sign in, and what this is not for."""
    print(f"\nLintel is at http://{HOST}:{port}/   (Ctrl-C stops it)\n")
    for name, person, role in sign_ins():
        print(f"  {name:<28} {person}, {role}")
    print(f"  password for all of them:  {PASSWORD}\n\n{CAUTION}", flush=True)


if __name__ == "__main__":
    main()
