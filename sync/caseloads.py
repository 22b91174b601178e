"""What a change of caseload solves: what was held because its author could not record about its client."""

from dataclasses import dataclass

from sync.messages import Verdict

OF_THE_CASELOAD = ("not_found", "read_only")


@dataclass(frozen=True)
class Caseload:
    """The clients a person sees now, those of them only to be read about, and a name for that state."""

    version: str | None
    clients: tuple[str, ...]
    read_only: tuple[str, ...] = ()


def is_solved(verdict: Verdict, client: str, asked: str | None, now: Caseload) -> bool:
    """Whether a reason for holding something ended with the caseload that a device has `now`.

    `asked` is the version that the request named. While it is the present one nothing has changed since: what
    is held stays held, or it would go again and again. A request under way may have been judged by a former
    one, and its answer come after that which told the present one.
    """
    if verdict.code not in OF_THE_CASELOAD or now.version == asked:
        return False
    return client in now.clients and client not in now.read_only
