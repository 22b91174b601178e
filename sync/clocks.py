"""Whose clock was wrong, of an entry that lay too far ahead of the server's: told once the two agree."""

from datetime import datetime

from msgspec.structs import replace

from sync.instants import LONGEST_AHEAD, read_instant
from sync.messages import Verdict

OWN_CLOCK = (
    "The clocks agree now, and this still lies ahead of them: the date of this device was wrong when it was "
    "recorded. Record it again with the right time, then withdraw this one."
)


def looked_at_again(verdict: Verdict, recorded_at: str, server_time: str, now: datetime) -> Verdict | None:
    """A verdict that an answer finds on a device whose clock says `now`; None when its reason has ended.

    While the clocks differ nobody can tell which is wrong, and nothing changes. Once they agree, what does
    not lie ahead any more did so by the server's fault and is sent again; of the rest the date is wrong,
    and waiting until it comes would put it into the record as it is.
    """
    if (verdict.code, verdict.field) != ("future_date", "recorded_at"):
        return verdict
    try:
        server, recorded = read_instant(server_time), read_instant(recorded_at)
    except ValueError:
        return verdict  # an answer that tells no time says nothing of clocks
    if abs(now - server) > LONGEST_AHEAD:
        return verdict
    if recorded - server <= LONGEST_AHEAD:
        return None
    return replace(verdict, code="own_clock", message=OWN_CLOCK)
