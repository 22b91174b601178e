"""Collect what a browser complains about, so that any complaint fails the test that caused it."""

import re
from collections.abc import Iterator
from contextlib import contextmanager

from playwright.sync_api import BrowserContext, ConsoleMessage

REPORT_POLICY_VIOLATIONS = """
document.addEventListener('securitypolicyviolation', (event) => console.error(
  `content policy violation: ${event.violatedDirective} blocked ${event.blockedURI || 'inline'}`));
"""
# What Chromium prints by itself when a fetch finds no network or no server; no script can prevent it.
NETWORK_GONE = (
    r"Failed to load resource: net::ERR_(INTERNET_DISCONNECTED|CONNECTION_REFUSED|CONNECTION_RESET"
    r"|CONNECTION_CLOSED|EMPTY_RESPONSE|FAILED|NETWORK_CHANGED|TIMED_OUT)"
)
# The shell asks who is signed in before anyone is; the answer "nobody" is a 401, printed by Chromium too.
NOBODY_SIGNED_IN = r"the server responded with a status of 401 .*/api/v1/(session|sync)\b"


class Watch:
    """Console errors, page errors and content policy violations of every page of the watched contexts."""

    def __init__(self) -> None:
        self.complaints: list[str] = []
        self.allowed: list[str] = [NOBODY_SIGNED_IN]

    def over(self, context: BrowserContext) -> None:
        """Start watching every page and worker of this context."""
        context.add_init_script(REPORT_POLICY_VIOLATIONS)
        context.on("console", self.note_console)
        context.on("weberror", lambda problem: self.complaints.append(f"page error: {problem.error}"))
        context.on("serviceworker", lambda worker: worker.on("console", self.note_console))

    def note_console(self, message: ConsoleMessage) -> None:
        if message.type == "error":
            self.complaints.append(f"console error: {message.text} [{message.location.get('url', '')}]")

    def allow(self, *patterns: str) -> None:
        """Allow complaints that match, from now to the end of the test."""
        self.allowed.extend(patterns)

    def allow_network_errors(self) -> None:
        """Allow what Chromium prints when the network or the server is gone; nothing else."""
        self.allow(NETWORK_GONE)

    def left(self) -> list[str]:
        """Return the complaints that nothing allows."""
        return [text for text in self.complaints if not any(re.search(each, text) for each in self.allowed)]


@contextmanager
def watching() -> Iterator[Watch]:
    """Give a watch, and fail at the end when a complaint is left over."""
    watch = Watch()
    yield watch
    assert not watch.left(), "the browser complained:\n" + "\n".join(watch.left())
