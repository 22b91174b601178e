"""Finding and sending what is due among very many clients: rows made by the database itself, all alike."""

import statistics
import time
import uuid
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import text

from demo_home_visits import serve
from tests.benchmarks.figures import markdown, ratio, shown
from tests.databases import Cluster
from tests.webapp.reminders.crowd import EARLY, noon_zone
from tests.webapp.reminders.push_service import Browser, PushService
from webapp.reminders.due_days import reckon
from webapp.reminders.outbox import claim
from webapp.reminders.sending import USUAL_SHARE, send_due
from webapp.reminders.vapid import make_private_key
from webapp.reminders.web_push import Keys, Sender, Sent
from webapp.reminders.worker import SENDING_THREADS
from webapp.storage import Database, create_organisation, upgrade
from webapp.storage.models import Client

SIZES = (100_000, 1_000_000)
CLIENTS_EACH, ROUNDS, CLAIMS = 40, 10, 20
EVERY_FLUSH = ""
HEADINGS = (
    "database", "clients", "therapists with a reminder due", "one claim of 50",
    "found and settled, nothing sent", "sent to a push service on loopback", "growth of the last two",
)  # fmt: skip


class Nowhere:
    """Takes every message at once: what is left is finding, counting and settling."""

    def send(self, *_: Any) -> Sent:
        return Sent("done", "sent")


def reminders(folder: Path, _today: Any = None) -> str:
    """Return the table, and what reckoning one client takes."""
    rows: list[tuple[str, ...]] = []
    for name, making in (("SQLite, synchronous=FULL", sqlite), ("PostgreSQL, fsync on", postgres)):
        before: tuple[float, float] | None = None
        for clients in SIZES:
            with making(folder / f"{name[:6]}_{clients}") as database, PushService() as push_service:
                fill(database, push_service.browser(), clients)
                claimed, found, sent = measured(database, push_service)
            growth = "-" if before is None else f"{ratio(found, before[0])}, {ratio(sent, before[1])}"
            size = f"{clients:,}", f"{clients // CLIENTS_EACH:,}"
            rows.append((name, *size, shown(claimed), each(found), each(sent), growth))
            before = found, sent
    return f"{markdown(HEADINGS, rows)}\n\n{reckoned(folder / 'demo')}"


def each(milliseconds: float) -> str:
    return f"{milliseconds:.1f} ms each, {1000 / milliseconds:,.0f} a second"


@contextmanager
def sqlite(folder: Path) -> Iterator[Database]:
    folder.mkdir(parents=True)
    yield from opened(serve.url_of(folder / "reminders.sqlite3"))


@contextmanager
def postgres(_folder: Path) -> Iterator[Database]:
    cluster = Cluster.start(EVERY_FLUSH)
    try:
        yield from opened(cluster.url(cluster.create()))
    finally:
        cluster.stop()


def opened(url: str) -> Iterator[Database]:
    upgrade(url)
    database = Database(url, "an invented secret of the benchmarks")
    yield database
    database.dispose()


def measured(database: Database, push_service: PushService) -> tuple[float, float, float]:
    """Milliseconds for a claim, and for a reminder: found and settled alone, and sent."""
    now = datetime.now(UTC)
    claims = [timed(lambda: claim_only(database, now)) for _ in range(CLAIMS)]
    sender = Sender(Keys(make_private_key(), "mailto:pilot@example.org"), [push_service.host])
    with ThreadPoolExecutor(SENDING_THREADS) as pool:
        per_round = [
            statistics.median(
                timed(lambda way=way: send_due(database, way, str(uuid.uuid4()), USUAL_SHARE, now, pool))
                for _ in range(ROUNDS)
            )
            for way in (Nowhere(), sender)
        ]
    assert push_service.faults == []
    return statistics.median(claims), *(each / USUAL_SHARE.most for each in per_round)


def claim_only(database: Database, now: datetime) -> None:
    """Claim as a worker does, and leave the lease to run out at once."""
    with database.writing() as session:
        assert len(claim(session, str(uuid.uuid4()), now, USUAL_SHARE.most, timedelta())) == USUAL_SHARE.most


def timed(do: Any) -> float:
    start = time.perf_counter()
    do()
    return (time.perf_counter() - start) * 1000


def reckoned(folder: Path) -> str:
    """What reckoning the clients of the demo takes, one after the other."""
    folder.mkdir(parents=True)
    database = Database(serve.url_of(serve.prepare(folder, fresh=True)), serve.secret(folder))
    with database.reading() as session:
        clients = [(row.organisation_id, row.id) for row in session.query(Client)]
        now = datetime.now(UTC)
        times = [timed(lambda who=who: reckon(session, *who, now)) for who in clients]
    database.dispose()
    middle, most = shown(statistics.median(times)), shown(max(times))
    return f"Reckoning a client of the demo from the log: {middle}, at most {most}."


def fill(database: Database, browser: Browser, clients: int) -> None:
    """Make so many clients, forty a therapist, each therapist with a browser and a reminder that is due."""
    organisation = create_organisation(database, "Very Large Home Therapy")
    now = datetime.now(UTC)
    keys = browser.subscription(str(uuid.uuid4()))
    facts = {
        "organisation": organisation, "long_ago": now - timedelta(days=9), "hour": now - timedelta(hours=1),
        "opens": now.date() - timedelta(days=3), "due": now.date() + timedelta(days=3), "at": EARLY,
        "zone": noon_zone(now), "endpoint": browser.endpoint, "p256dh": keys["p256dh"], "auth": keys["auth"],
        "clients": clients, "therapists": clients // CLIENTS_EACH, "each": CLIENTS_EACH,
    }  # fmt: skip
    is_postgres = database.engine.dialect.name == "postgresql"
    with database.writing() as session:
        if is_postgres:
            facts["organisation"] = uuid.UUID(organisation)
        else:
            facts["organisation"] = uuid.UUID(organisation).hex
        for statement in STATEMENTS:
            session.execute(text(in_words_of(statement, is_postgres)), used_in(statement, facts))
    with database.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.exec_driver_sql("ANALYZE")


def used_in(statement: str, facts: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in facts.items() if f":{name}" in statement}


def in_words_of(statement: str, is_postgres: bool) -> str:
    """A statement with the numbers from 0 as a series and ids made of them, as each database writes it."""
    for start, letter in (("ID(u,", "a"), ("ID(c,", "b"), ("ID(r,", "c")):
        while start in statement:
            before, _, rest = statement.partition(start)
            number, _, after = rest.partition(")ID")
            digits = f"'{letter}0000000' || '00004000' || '8000'"
            made = (
                f"({digits} || lpad(to_hex({number}), 12, '0'))::uuid" if is_postgres
                else f"{digits} || printf('%012x', {number})"
            )  # fmt: skip
            statement = f"{before}{made}{after}"
    if is_postgres:
        return statement.replace("SERIES(:", "generate_series(0, :").replace(")N", " - 1) AS series(n)")
    series = "(WITH RECURSIVE s(n) AS (SELECT 0 UNION ALL SELECT n + 1 FROM s WHERE n + 1 < :"
    return statement.replace("SERIES(:", series).replace(")N", ") SELECT n FROM s)")


STATEMENTS = (
    "INSERT INTO users (organisation_id, id, sign_in_name, display_name, role, password_hash, active, "
    "created_at) SELECT :organisation, ID(u,n)ID, n || '@example.org', 'Somebody', 'therapist', '', true, "
    ":long_ago FROM SERIES(:therapists)N",
    "INSERT INTO clients (organisation_id, id, created_at) SELECT :organisation, ID(c,n)ID, :long_ago "
    "FROM SERIES(:clients)N",
    "INSERT INTO caseload (organisation_id, user_id, client_id, since, emergency) "
    "SELECT :organisation, ID(u,n / :each)ID, ID(c,n)ID, :long_ago, false FROM SERIES(:clients)N",
    "INSERT INTO due (organisation_id, client_id, rule, from_on, due_on, known_at) "
    "SELECT :organisation, ID(c,n)ID, 'every', :opens, :due, :long_ago FROM SERIES(:clients)N",
    'INSERT INTO reminder_habits (organisation_id, user_id, "at", zone, days, reminded_at, calendar_names) '
    "SELECT :organisation, ID(u,n)ID, :at, :zone, '1234567', :long_ago, false FROM SERIES(:therapists)N",
    "INSERT INTO push_subscriptions (organisation_id, endpoint_hash, user_id, endpoint, p256dh, auth, "
    "device_id, created_at) SELECT :organisation, 'hash' || n, ID(u,n)ID, :endpoint, :p256dh, :auth, "
    "ID(u,n)ID, :long_ago FROM SERIES(:therapists)N",
    "INSERT INTO reminders (organisation_id, id, user_id, due_at, state, attempts, sent_to) "
    "SELECT :organisation, ID(r,n)ID, ID(u,n)ID, :hour, 'waiting', 0, '[]' FROM SERIES(:therapists)N",
)
