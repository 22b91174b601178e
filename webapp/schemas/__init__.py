"""marshmallow schemas of everything an entry can hold. Of ours it imports the clinical data only."""

from webapp.schemas.check import SCHEMAS, Problem, check_entry, make_looks
from webapp.schemas.envelope import EntrySchema, StoredEntrySchema

__all__ = ["SCHEMAS", "EntrySchema", "Problem", "StoredEntrySchema", "check_entry", "make_looks"]
