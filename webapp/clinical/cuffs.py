"""Which cuff an arm needs."""

from .decimals import round_text, to_scaled
from .load import data


def cuff_for(circumference: str) -> str | None:
    """The cuff id for an arm circumference in cm (decimal text); None outside the table."""
    whole = to_scaled(round_text(circumference, 0))
    for cuff in data()["cuffs"]["cuffs"]:
        if to_scaled(cuff["low"]) <= whole <= to_scaled(cuff["high"]):
            return str(cuff["id"])
    return None
