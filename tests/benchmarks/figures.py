"""What a measurement gives back, and its row in the table."""

import statistics
from dataclasses import dataclass


@dataclass(frozen=True)
class Figure:
    """Several runs of one thing, in milliseconds, and what exactly was measured."""

    name: str
    milliseconds: tuple[float, ...]
    how: str

    @property
    def median(self) -> float:
        return statistics.median(self.milliseconds)

    @property
    def slow(self) -> float:
        """The time that 19 runs in 20 stay within; with few runs, the slowest."""
        return sorted(self.milliseconds)[max(0, -(-len(self.milliseconds) * 19 // 20) - 1)]

    def row(self) -> tuple[str, str, str, str, str]:
        return self.name, shown(self.median), shown(self.slow), str(len(self.milliseconds)), self.how


def shown(milliseconds: float) -> str:
    """Return a duration with as many digits as mean something."""
    if milliseconds >= 10_000:
        return f"{milliseconds / 1000:.1f} s"
    return f"{milliseconds:.0f} ms" if milliseconds >= 10 else f"{milliseconds:.1f} ms"


HEADINGS = ("what", "median", "19 in 20 within", "runs", "how")


def table(figures: list[Figure]) -> str:
    """Return a Markdown table."""
    rows = [HEADINGS, tuple("---" for _ in HEADINGS), *(figure.row() for figure in figures)]
    return "\n".join(f"| {' | '.join(row)} |" for row in rows)
