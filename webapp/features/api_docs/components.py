"""Components of the API description that are no entries: messages of sync, session, errors."""

from typing import Any

from sync.messages import DEVICE_STATES, MAX_COVERED, MAX_FILLS, MAX_ITEMS, PROTOCOL, VERDICTS

Shape = dict[str, Any]
COUNT: Shape = {"type": "integer", "minimum": 0, "maximum": 2**53 - 1}
UUID: Shape = {"type": "string", "format": "uuid"}
TEXT: Shape = {"type": "string"}
LINE: Shape = {"type": "string", "maxLength": 80}
HASH: Shape = {"type": "string", "pattern": "^[0-9a-f]{64}$"}
INSTANT: Shape = {"type": "string", "format": "date-time"}


def _object(properties: dict[str, Shape], optional: tuple[str, ...] = ()) -> Shape:
    return {
        "type": "object",
        "properties": properties,
        "required": [name for name in properties if name not in optional],
    }


def _list(items: Shape, most: int | None = None) -> Shape:
    return {"type": "array", "items": items} | ({"maxItems": most} if most else {})


def _or_null(shape: Shape) -> Shape:
    return {"anyOf": [shape, {"type": "null"}]}


def _ref(name: str) -> Shape:
    return {"$ref": f"#/components/schemas/{name}"}


AUDIT_ROW = _object(
    {
        "seq": COUNT,
        "at": INSTANT,
        "actor": _or_null(UUID),
        "device": _or_null(UUID),
        "action": TEXT,
        "record": _object({"kind": TEXT, "id": _or_null(TEXT)}),
        "person": _or_null(UUID),
        "outcome": {"enum": ["done", "refused"]},
        "reason": _or_null(TEXT),
        "count": _or_null(COUNT),
        "request": _or_null(TEXT),
    }
)
SETTINGS = _object(
    {"early_warning": {"type": "boolean"}, "reassessment": {"type": "object"}, "calendar": {"type": "object"}}
)

PERSON = _object({"id": UUID, "name": TEXT, "role": TEXT})
YES: Shape = {"type": "boolean"}
ACCOUNT = _object({"id": UUID, "name": TEXT, "role": TEXT, "sign_in_name": TEXT, "active": YES})
ON_CASELOAD = _object({"client": UUID, "since": INSTANT, "until": _or_null(INSTANT), "emergency": YES})
TEAM = _object({"id": UUID, "name": TEXT, "members": _list(PERSON), "leads": _list(PERSON)})
DEVICE = _object(
    {
        "id": UUID,
        "name": TEXT,
        "person": PERSON,
        "last_sync_at": INSTANT,
        "unsent": COUNT,
        "missing": COUNT,
        "withdrawn_at": _or_null(INSTANT),
        "copied_at": _or_null(INSTANT),
    }
)
MADE: dict[str, Shape] = {"person": UUID, "passphrase": TEXT, "team": UUID, "link": TEXT, "taken": COUNT,
                          "left": COUNT}  # fmt: skip
OFFICE: dict[str, Shape] = {
    "Done": _object({"done": TEXT, **MADE}, tuple(MADE)),
    "OfficePeople": _object({"people": _list(ACCOUNT)}),
    "OfficeCaseload": _object({"caseload": _list(ON_CASELOAD)}),
    "OfficeTeams": _object({"teams": _list(TEAM)}),
    "OfficeDevices": _object({"devices": _list(DEVICE)}),
}

HABITS = _object(
    {"at": TEXT, "zone": TEXT, "days": TEXT, "quiet_from": _or_null(TEXT), "quiet_until": _or_null(TEXT)}
)

COMPONENTS: dict[str, Shape] = {
    **OFFICE,
    "Anything": {"type": "object"},
    "Error": _object({"error": _object({"code": TEXT, "field": _or_null(TEXT), "message": TEXT})}),
    "Session": _object(
        {
            "user": _object({"id": UUID, "name": TEXT, "role": TEXT}),
            "organisation": _object({"id": UUID, "name": TEXT, "settings": SETTINGS}),
            "csrf": TEXT,
            "server_time": INSTANT,
            "lacking": _list(
                _object({"device": UUID, "name": LINE, "last_sync_at": INSTANT, "entries": COUNT})
            ),
        }
    ),
    "SyncRequest": _object(
        {
            "protocol": {"const": PROTOCOL},
            "build": LINE,
            "device": UUID,
            "device_name": LINE,
            "epoch": _or_null(LINE),
            "unsent": COUNT,
            "last_device_seq": COUNT,
            "push": _list(_ref("Entry"), MAX_ITEMS),
            "pull": _object(
                {
                    "after": COUNT,
                    "caseload": _or_null(LINE),
                    "fill": _list(_object({"client": UUID, "after": COUNT}), MAX_FILLS),
                },
                ("caseload",),
            ),
            "returned": _list(
                _object(
                    {
                        "receipt": _or_null(LINE),
                        "covers": _list(HASH, MAX_COVERED),
                        "entries": _list(_ref("Entry"), MAX_ITEMS),
                    },
                    ("receipt",),
                )
            ),
        },
        ("epoch", "returned"),
    ),
    "Verdict": _object(
        {
            "id": _or_null(UUID),
            "verdict": {"enum": list(VERDICTS)},
            "seq": COUNT,
            "code": TEXT,
            "field": TEXT,
            "message": TEXT,
        },
        ("seq", "code", "field", "message"),
    ),
    "Stub": _object({"id": UUID, "seq": COUNT, "hash": HASH}),
    "SyncReply": _object(
        {
            "protocol": {"const": PROTOCOL},
            "server_time": INSTANT,
            "person": UUID,
            "settings": SETTINGS,
            "device_state": {"enum": list(DEVICE_STATES)},
            "epoch": UUID,
            "head": COUNT,
            "verdicts": _list(_ref("Verdict")),
            "pull": _object(
                {
                    "entries": _list({"anyOf": [_ref("StoredEntry"), _ref("Stub")]}),
                    "after": COUNT,
                    "more": {"type": "boolean"},
                    "caseload": _or_null(
                        _object({"version": TEXT, "clients": _list(UUID), "read_only": _list(UUID)})
                    ),
                    "fill": _list(_object({"client": UUID, "after": COUNT, "more": {"type": "boolean"}})),
                    "receipt": LINE,
                },
                ("receipt",),
            ),
            "returned": _list(_ref("Verdict")),
        },
        ("returned",),
    ),
    "Reminders": _object(
        {
            "key": _or_null(TEXT),
            "habits": _or_null(HABITS),
            "calendar": YES,
            "calendar_names": YES,
            "browsers": COUNT,
        }
    ),
    "CalendarMade": _object({"address": TEXT}),
    "EmergencyOpened": _object({"client": UUID, "until": _or_null(INSTANT)}),
    "EmergencyAccesses": _object({"accesses": _list(_ref("EmergencyAccess"))}),
    "EmergencyAccess": _object(
        {
            "id": UUID,
            "person": _object({"id": UUID, "name": TEXT}),
            "client": UUID,
            "since": INSTANT,
            "until": _or_null(INSTANT),
            "reason": TEXT,
            "seen_at": _or_null(INSTANT),
        }
    ),
    "EmergencySeen": _object({"seen_at": INSTANT}),
    "Audit": _object({"rows": _list(AUDIT_ROW), "more": {"type": "boolean"}}),
    "Clients": _object({"clients": _list(_object({"id": UUID}))}),
    "ClientEntries": _object(
        {"entries": _list(_ref("StoredEntry")), "after": COUNT, "more": {"type": "boolean"}}
    ),
}
