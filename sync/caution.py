"""How a client goes on after requests that were refused for what they held."""

from collections import Counter
from collections.abc import Sequence

from sync.messages import MAX_ITEMS
from sync.state import Entry

TRIES_ALONE = 5


class Caution:
    """How many entries go at once. One that nobody can take must not hold up the others."""

    def __init__(self) -> None:
        self.most = MAX_ITEMS
        self._refused_alone: Counter[str] = Counter()

    def refused(self, push: Sequence[Entry]) -> Entry | None:
        """Half as many go next; the entry that was refused alone so often that the rest goes without it."""
        self.most = max(1, len(push) // 2)
        if len(push) > 1:
            return None
        self._refused_alone[push[0]["id"]] += 1
        return push[0] if self._refused_alone[push[0]["id"]] >= TRIES_ALONE else None

    def answered(self) -> None:
        """Twice as many may go again."""
        self.most = min(MAX_ITEMS, 2 * self.most)
        self._refused_alone.clear()
