"""Settings: one dataclass, read from the environment once. Outside the demo nothing unsafe has a default."""

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime

from flask import current_app

SHORTEST_SECRET = 32
# For how many hours an emergency opens a record: 24 unless set otherwise, a week at most. Our choice.
LONGEST_EMERGENCY = 168
LOOPBACK = ("127.0.0.1", "localhost", "[::1]")


class SettingsError(RuntimeError):
    """A setting is missing or unsafe; the program does not start."""


def utc_now() -> datetime:
    """The server's clock."""
    return datetime.now(UTC)


@dataclass(frozen=True)
class Settings:
    """Everything an operator decides. `demo` is for one computer's loopback address only."""

    database_url: str
    secret_key: str
    hosts: tuple[str, ...] = ()
    proxies: int = 0
    demo: bool = False
    emergency_hours: int = 24
    old_secret_keys: tuple[str, ...] = ()
    clock: Callable[[], datetime] = utc_now

    def __post_init__(self) -> None:
        if len(self.secret_key) < SHORTEST_SECRET or len(set(self.secret_key)) < 8:
            raise SettingsError(
                f"LINTEL_SECRET_KEY must be a random text of at least {SHORTEST_SECRET} characters. "
                'Make one with: python3 -c "import secrets; print(secrets.token_urlsafe(48))"'
            )
        if not self.demo and not self.hosts:
            raise SettingsError(
                "LINTEL_HOSTS must name the host names this service answers to, comma-separated."
            )
        if not 1 <= self.emergency_hours <= LONGEST_EMERGENCY:
            raise SettingsError(f"LINTEL_EMERGENCY_HOURS must lie between 1 and {LONGEST_EMERGENCY}.")

    @property
    def secure(self) -> bool:
        """Whether cookies travel over TLS only."""
        return not self.demo

    @property
    def trusted_hosts(self) -> tuple[str, ...]:
        """The host names requests may carry."""
        return self.hosts or LOOPBACK


def from_environment(environment: Mapping[str, str] = os.environ) -> Settings:
    """The settings in LINTEL_* variables; SettingsError in a plain sentence when one is missing."""
    for name in ("LINTEL_DATABASE_URL", "LINTEL_SECRET_KEY"):
        if not environment.get(name):
            raise SettingsError(f"{name} is not set.")
    hosts = _listed(environment, "LINTEL_HOSTS")
    return Settings(
        database_url=environment["LINTEL_DATABASE_URL"],
        secret_key=environment["LINTEL_SECRET_KEY"],
        hosts=hosts,
        proxies=_whole(
            environment, "LINTEL_PROXIES", 0, "must be the number of proxies in front of this service"
        ),
        emergency_hours=_whole(environment, "LINTEL_EMERGENCY_HOURS", 24, "must be a number of hours"),
        demo=environment.get("LINTEL_DEMO") == "1",
        old_secret_keys=_listed(environment, "LINTEL_OLD_SECRET_KEYS"),
    )


def _whole(environment: Mapping[str, str], name: str, default: int, rule: str) -> int:
    try:
        return int(environment.get(name, default))
    except ValueError as error:
        raise SettingsError(f"{name} {rule}.") from error


def _listed(environment: Mapping[str, str], name: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in environment.get(name, "").split(",") if part.strip())


def settings() -> Settings:
    """The settings of the running application."""
    found: Settings = current_app.extensions["lintel.settings"]
    return found


def now() -> datetime:
    """The moment, by the running application's clock."""
    return settings().clock()
