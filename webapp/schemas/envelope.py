"""The envelope of an entry: the keys every entry has, whatever its kind."""

from typing import Any

from marshmallow import fields, validate

from webapp.schemas.fields import Id, Moment, Strict, text, whole
from webapp.schemas.said import MESSAGES, Said, said

_KIND = Said("unknown_kind", "This kind of entry is not known here. Update the app and record it again.")


def _correction_is_whole(data: dict[str, Any]) -> None:
    """A correction names one entry and a reason; a withdrawal has no content of its own."""
    if data["amends"] and data["voids"]:
        raise said("two_targets", "An entry either corrects another or withdraws it, not both.", "voids")
    if (data["amends"] or data["voids"]) and not (data["reason"] or "").strip():
        raise said("required", "Say why the earlier entry is corrected or withdrawn.", "reason")
    if data["voids"] and data["body"]:
        raise said("unknown_field", "A withdrawal carries no readings of its own.", "body")
    if data["id"] in (data["amends"], data["voids"]):
        raise said("wrong_target", "An entry cannot correct itself.", "amends")


class EntrySchema(Strict):
    """One entry as a device sends it."""

    id = Id(required=True, metadata={"description": "UUIDv7, made on the device"})
    kind = fields.String(
        required=True,
        error_messages=MESSAGES,
        validate=validate.Regexp(r"[a-z][a-z0-9_]{0,63}\Z", error=_KIND),
    )
    schema = whole(1, 1_000_000, required=True)
    client = Id(required=True)
    visit = Id(required=True, allow_none=True)
    recorded_at = Moment(required=True, metadata={"description": "by the device's clock, UTC"})
    utc_offset = whole(-1440, 1440, required=True, metadata={"description": "minutes east of UTC"})
    author = Id(required=True)
    device = Id(required=True)
    device_seq = whole(1, 2**53 - 1, required=True)
    amends = Id(required=True, allow_none=True)
    voids = Id(required=True, allow_none=True)
    reason = text(2000, required=True, allow_none=True)
    body = fields.Dict(required=True, keys=fields.String(), error_messages=MESSAGES)

    whole = (_correction_is_whole,)


class StoredEntrySchema(EntrySchema):
    """An entry with what the server adds."""

    seq = whole(1, 2**53 - 1, required=True)
    received_at = Moment(required=True, metadata={"description": "by the server's clock, UTC"})
