"""What a measurement gives back, and its row in the table."""

import statistics
from dataclasses import dataclass


@dataclass(frozen=True)
class Traffic:
    """Requests between device and server, and their bodies in bytes, packed as they travelled."""

    requests: int = 0
    sent: int = 0
    received: int = 0

    def and_one(self, sent: int, received: int) -> "Traffic":
        """Return this and one request more."""
        return Traffic(self.requests + 1, self.sent + sent, self.received + received)


@dataclass(frozen=True)
class Figure:
    """Several runs of one thing, in milliseconds, and what exactly was measured."""

    name: str
    milliseconds: tuple[float, ...]
    how: str
    traffic: Traffic | None = None  # of one run

    @property
    def median(self) -> float:
        return statistics.median(self.milliseconds)

    @property
    def slow(self) -> float:
        """The time that 19 runs in 20 stay within; with few runs, the slowest."""
        return sorted(self.milliseconds)[max(0, -(-len(self.milliseconds) * 19 // 20) - 1)]

    def row(self) -> tuple[str, ...]:
        times = shown(self.median), shown(self.slow), str(len(self.milliseconds))
        return self.name, *times, *self.travelled(), self.how

    def travelled(self) -> tuple[str, str, str]:
        if self.traffic is None:
            return "-", "-", "-"
        return str(self.traffic.requests), kilobytes(self.traffic.sent), kilobytes(self.traffic.received)


def shown(milliseconds: float) -> str:
    """Return a duration with as many digits as mean something."""
    if milliseconds >= 10_000:
        return f"{milliseconds / 1000:.1f} s"
    return f"{milliseconds:.0f} ms" if milliseconds >= 10 else f"{milliseconds:.1f} ms"


def kilobytes(count: int) -> str:
    """Return an amount of bytes in thousands."""
    return f"{count / 1000:,.1f} kB" if count < 10_000 else f"{count / 1000:,.0f} kB"


HEADINGS = ("what", "median", "19 in 20 within", "runs", "requests", "sent", "received", "how")


def table(figures: list[Figure]) -> str:
    """Return a Markdown table."""
    rows = [HEADINGS, tuple("---" for _ in HEADINGS), *(figure.row() for figure in figures)]
    return "\n".join(f"| {' | '.join(row)} |" for row in rows)
