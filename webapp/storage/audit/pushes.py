"""What one push leaves in the audit: a row for each client written about, a few for what was refused."""

from collections import Counter
from collections.abc import Sequence

from sqlalchemy.orm import Session

from sync.messages import Candidate, Verdict
from webapp.circumstances import acting, circumstances
from webapp.storage.audit.record import Event, append_rows, unrepeated
from webapp.storage.models import Organisation
from webapp.storage.sender import Sender

# Above this many strange clients in one push the rest is only counted: a push must not fill the audit.
MOST_REFUSED = 10
ASIDE = frozenset({"put_aside", "unproved"})


def audit_push(
    session: Session, locked: Organisation, sender: Sender, judged: Sequence[tuple[Candidate, Verdict]]
) -> None:
    """Write down what a push did, within its own transaction and in the name of the sender.

    What somebody had taken of a withdrawn device is written down in that one's name.
    """
    refused = _refused(sender.device, judged)
    with acting(circumstances().actor if sender.admitted else sender.person.id):
        action = "entries_written" if sender.proved is None else "entries_handed_back"
        events = _written(action, sender.device, judged)
        events += unrepeated(session, locked.id, sender.now, refused) if refused else []
        append_rows(session, locked, sender.now, events)


def _written(action: str, device: str, judged: Sequence[tuple[Candidate, Verdict]]) -> list[Event]:
    clients = Counter(
        candidate.entry["client"]
        for candidate, verdict in judged
        if verdict.verdict == "applied" and candidate.entry
    )
    return [Event(action, "client", client, device=device, count=count) for client, count in clients.items()]


def _refused(device: str, judged: Sequence[tuple[Candidate, Verdict]]) -> list[Event]:
    codes = Counter(verdict.code for _, verdict in judged if verdict.verdict == "held")
    events = []
    if codes["device_revoked"]:
        events.append(_refusal("device_refused", "device", device, device, "device_revoked"))
    for code in sorted(ASIDE & codes.keys()):
        events.append(_refusal("entries_put_aside", "device", device, device, code))
    strange = dict.fromkeys(
        candidate.entry["client"]
        for candidate, verdict in judged
        if verdict.code == "not_found" and candidate.entry
    )
    for client in list(strange)[:MOST_REFUSED]:
        events.append(_refusal("client_refused", "client", client, device, "not_found"))
    if len(strange) > MOST_REFUSED:
        events.append(_refusal("client_refused", "clients", None, device, "many"))
    return events


def _refusal(action: str, kind: str, own: str | None, device: str, reason: str) -> Event:
    return Event(action, kind, own, device=device, refused=True, reason=reason)
