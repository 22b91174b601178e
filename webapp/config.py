"""Settings: one dataclass, read from the environment once. Outside the demo nothing unsafe has a default."""

import json
import os
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime

from flask import current_app

SHORTEST_SECRET = 32
# For how many hours an emergency opens a record: 24 unless set otherwise, a week at most. Our choice.
LONGEST_EMERGENCY = 168
# 32 bytes in base64url, the way VAPID keys are handed around.
_PRIVATE_KEY = re.compile(r"[A-Za-z0-9_-]{43}=?")
_AS_JSON = (
    'Give one former secret just as it was, or a JSON list, which any may stand in: ["the former one", '
    '"the one before it"]. Make it with: python3 -c "import json, sys; print(json.dumps(sys.argv[1:]))" '
    "and the secrets behind that, each in quotes."
)
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
    push_private_key: str = field(default="", repr=False)
    push_contact: str = ""
    push_hosts: tuple[str, ...] = ()
    metrics_token: str = field(default="", repr=False)
    clock: Callable[[], datetime] = utc_now

    def __post_init__(self) -> None:
        if not _could_be_secret(self.secret_key):
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
        _check_push(self.push_private_key, self.push_contact)
        if self.metrics_token and len(self.metrics_token) < SHORTEST_SECRET:
            raise SettingsError(
                f"LINTEL_METRICS_TOKEN must be a random text of at least {SHORTEST_SECRET} characters."
            )

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
        old_secret_keys=_former_secrets(environment.get("LINTEL_OLD_SECRET_KEYS", "")),
        push_private_key=environment.get("LINTEL_PUSH_PRIVATE_KEY", "").strip(),
        push_contact=environment.get("LINTEL_PUSH_CONTACT", "").strip(),
        push_hosts=_listed(environment, "LINTEL_PUSH_HOSTS"),
        metrics_token=environment.get("LINTEL_METRICS_TOKEN", ""),
    )


def _could_be_secret(text: object) -> bool:
    return isinstance(text, str) and len(text) >= SHORTEST_SECRET and len(set(text)) >= 8


def _former_secrets(text: str) -> tuple[str, ...]:
    """One former secret as it was, or several as a JSON list: any sign may stand within a secret."""
    if not text.strip():
        return ()
    listed = text.lstrip().startswith("[")
    if not listed and "," in text:
        raise SettingsError(f"LINTEL_OLD_SECRET_KEYS holds a comma: is it one secret or several? {_AS_JSON}")
    try:
        found = json.loads(text) if listed else [text]
    except ValueError as error:
        raise SettingsError(f"LINTEL_OLD_SECRET_KEYS begins like a list and is none. {_AS_JSON}") from error
    if not all(map(_could_be_secret, found)):
        raise SettingsError(
            f"LINTEL_OLD_SECRET_KEYS holds something that was never a secret of this service. {_AS_JSON}"
        )
    return tuple(found)


def _check_push(key: str, contact: str) -> None:
    if key and not _PRIVATE_KEY.fullmatch(key):
        raise SettingsError(
            "LINTEL_PUSH_PRIVATE_KEY is no private VAPID key. "
            "Make one with: python3 -m webapp.service push-keys"
        )
    if key and not contact.startswith(("mailto:", "https://")):
        raise SettingsError(
            "LINTEL_PUSH_CONTACT must say how a push service reaches you: mailto: or https:// and an address."
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
