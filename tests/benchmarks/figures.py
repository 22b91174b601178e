"""What a measurement gives back, and its row in the table."""

import statistics
from collections.abc import Iterable, Sequence
from dataclasses import astuple, dataclass


@dataclass(frozen=True)
class Traffic:
    """Requests between device and server, and their bytes as they travelled."""

    requests: int = 0
    sent: int = 0
    received: int = 0
    bodies: int = 0  # of what was sent, the bodies alone; only a Wire knows them
    connections: int = 0

    def and_one(self, sent: int, received: int) -> "Traffic":
        """Return this and one request more."""
        return self.plus(Traffic(1, sent, received))

    def plus(self, other: "Traffic") -> "Traffic":
        return Traffic(*(mine + more for mine, more in zip(astuple(self), astuple(other), strict=True)))

    def minus(self, other: "Traffic") -> "Traffic":
        return Traffic(*(mine - less for mine, less in zip(astuple(self), astuple(other), strict=True)))


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
    return markdown(HEADINGS, [figure.row() for figure in figures])


def markdown(headings: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a Markdown table of any rows."""
    lines = [headings, ["---"] * len(headings), *rows]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def spread(milliseconds: Sequence[float]) -> str:
    """Return the median and, in brackets, the quickest and the slowest."""
    middle = shown(statistics.median(milliseconds))
    return f"{middle} ({shown(min(milliseconds))} to {shown(max(milliseconds))})"


def ratio(value: float, other: float) -> str:
    """Return how many times one is of another."""
    return f"{value / other:.2f}" if other else "-"
