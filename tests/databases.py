"""Fresh, migrated databases for tests: an SQLite file, or one of a throw-away PostgreSQL cluster."""

import os
import shutil
import subprocess
import tempfile
import uuid
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

import psycopg

from tests.system_programs import postgres_folder
from webapp.storage import upgrade
from webapp.storage.models import Base

# A process that is killed loses nothing that it handed to the kernel; only a machine that dies needs fsync.
DURABLE = "-c fsync=off -c full_page_writes=off -c synchronous_commit=on"
FAST = "-c fsync=off -c full_page_writes=off -c synchronous_commit=off"


class NoPostgres(RuntimeError):
    """The PostgreSQL server programs are not installed."""


@dataclass
class Cluster:
    """A PostgreSQL server of its own, reached by a socket in its own folder."""

    folder: Path
    programs: Path
    settings: str = FAST

    @classmethod
    def start(cls, settings: str = FAST) -> "Cluster":
        """Make a cluster and start it."""
        programs = postgres_folder()
        if programs is None:
            raise NoPostgres(
                "These tests need the PostgreSQL server programs (initdb, pg_ctl). "
                "On Debian or Ubuntu: sudo apt-get install --no-install-recommends postgresql"
            )
        # Below the system's own folder for such things: the user postgres must be able to reach it.
        cluster = cls(Path(tempfile.mkdtemp(prefix="lintel_pg_")), programs, settings)
        if is_root():
            shutil.chown(cluster.folder, "postgres")
        cluster.run("initdb", "-D", cluster.data, "-A", "trust", "-U", "postgres", "-E", "UTF8", "--no-sync")
        cluster.control("start")
        return cluster

    def control(self, what: str, *how: str) -> None:
        """Start, stop or restart it: `-m immediate` is a crash, `-m fast` throws everybody out."""
        options = f"-c listen_addresses='' -c unix_socket_directories={self.folder} {self.settings}"
        self.run("pg_ctl", "-D", self.data, "-w", "-l", str(self.folder / "log"), "-o", options, *how, what)

    @property
    def data(self) -> str:
        return str(self.folder / "data")

    def run(self, program: str, *arguments: str) -> None:
        """Run one of PostgreSQL's programs, as a user who may: it refuses to run as root."""
        command = [str(self.programs / program), *arguments]
        if is_root():
            command = ["runuser", "-u", "postgres", "--", *command]
        subprocess.run(
            command,
            check=True,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.STDOUT,
            stdin=subprocess.DEVNULL,
            cwd=self.folder,
        )

    def url(self, name: str) -> str:
        """The address of one of its databases."""
        return f"postgresql://postgres@/{name}?host={quote(str(self.folder))}"

    def create(self) -> str:
        """Make a database without tables; its name."""
        name = f"t{uuid.uuid4().hex}"
        with psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            connection.execute(f'CREATE DATABASE "{name}"')
        return name

    def empty(self, name: str) -> None:
        """Remove every row of a migrated database: much quicker than a new one, and than TRUNCATE."""
        deletions = "; ".join(f"DELETE FROM {table}" for table in Base.metadata.tables)
        with psycopg.connect(self.url(name), autocommit=True) as connection:
            # The audit refuses it otherwise, as it should.
            connection.execute("SET session_replication_role = replica")
            connection.execute(deletions)

    def drop(self, name: str) -> None:
        """Remove a database, whoever is still connected."""
        with psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            connection.execute(f'DROP DATABASE "{name}" WITH (FORCE)')

    def stop(self) -> None:
        """Stop the server and remove everything."""
        self.control("stop", "-m", "immediate")
        shutil.rmtree(self.folder, ignore_errors=True)


def is_root() -> bool:
    """Whether these tests run as root, as in a container."""
    return hasattr(os, "geteuid") and os.geteuid() == 0


def migrated_file(folder: Path) -> Path:
    """An SQLite file with all tables and nothing in them."""
    path = folder / "template.sqlite3"
    upgrade(f"sqlite:///{path}")
    return path


def copy_of(template: Path, folder: Path) -> str:
    """The address of a fresh copy of an SQLite file."""
    target = folder / "lintel.sqlite3"
    shutil.copyfile(template, target)
    return f"sqlite:///{target}"
