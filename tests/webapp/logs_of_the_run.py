"""What the application logs during a whole run of the server's tests, searched for what was typed."""

import io
import logging
from collections.abc import Iterator
from contextlib import contextmanager

from tests.webapp.support import PASSWORD, SECRET
from webapp.logs import AllowListFormatter

# What the tests type: names, sign-in names, a passphrase, a secret, notes. None of it may reach a log.
SEEDED = (
    "example.org", "Ann Example", "Ben Example", "Cleo Example", "Zebulon", "Quackenbush", "Larkmere",
    "hush-hush", "A phone", PASSWORD, SECRET,
)  # fmt: skip


def seeded_in(text: str) -> list[str]:
    """The seeded words that a text holds."""
    return [word for word in SEEDED if word.casefold() in text.casefold()]


@contextmanager
def recorded(ours: str = "lintel", theirs: str | None = None) -> Iterator[io.StringIO]:
    """What goes to an operator's log: our own lines as they are written, and other libraries' warnings."""
    stream = io.StringIO()
    own, others = logging.StreamHandler(stream), logging.StreamHandler(stream)
    own.setFormatter(AllowListFormatter())
    others.setLevel(logging.WARNING)
    logging.getLogger(ours).addHandler(own)
    logging.getLogger(theirs).addHandler(others)
    yield stream
    logging.getLogger(ours).removeHandler(own)
    logging.getLogger(theirs).removeHandler(others)
