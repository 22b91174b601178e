"""marshmallow schemas of everything that can be in an entry. Imports the clinical data, nothing else of ours."""

from webapp.schemas.check import SCHEMAS, Problem, check_entry
from webapp.schemas.envelope import EntrySchema

__all__ = ["SCHEMAS", "EntrySchema", "Problem", "check_entry"]
