"""Numbers as people type them, turned into canonical decimal text."""

import re
from functools import lru_cache

from .decimals import MAX_DIGITS, SCALE_DIGITS, from_scaled, to_scaled
from .wording import message

_DIGITS = {ord(digit): str(value) for row in ("٠١٢٣٤٥٦٧٨٩", "۰۱۲۳۴۵۶۷۸۹") for value, digit in enumerate(row)}
_SIGNS = {ord(","): ".", ord("٫"): ".", ord("−"): "-"}
_NUMBER = re.compile(r"(-?)0*([0-9]*)(?:\.([0-9]+))?")
_SPACE = " \t\r\n\u00a0"


def parse_number(text: object, decimals: int) -> dict[str, str]:
    """{"value": canonical text} or {"error": code, "message": sentence}."""
    typed = text.strip(_SPACE).translate(_DIGITS) if isinstance(text, str) else ""
    # "1,250" is a thousand to some and one and a quarter to others: never guess.
    if re.search(r",[0-9]{3}\Z", typed):
        return _error("ambiguous", decimals)
    plain = typed.translate(_SIGNS)
    match = _NUMBER.fullmatch(plain)
    if not match or not re.search(r"[0-9]", plain):
        return _error("not_a_number", decimals)
    sign, whole, part = match[1], match[2] or "0", (match[3] or "").rstrip("0")
    if len(whole) > MAX_DIGITS:
        return _error("too_long", decimals)
    if len(part) > min(decimals, SCALE_DIGITS):
        return _error("too_many_decimals", decimals)
    return {"value": from_scaled(to_scaled(f"{sign}{whole}{'.' if part else ''}{part}"))}


# Readings are a few hundred different numbers, asked for again and again.
@lru_cache(maxsize=4096)
def is_canonical(text: str, decimals: int) -> bool:
    """Whether a text is a number of at most so many decimals as it is kept."""
    return parse_number(text, decimals).get("value") == text


def _error(code: str, decimals: int) -> dict[str, str]:
    sentence = "whole_number" if code == "too_many_decimals" and not decimals else code
    example = "36.8" if decimals else "72"
    return {"error": code, "message": message(sentence, example=example, decimals=str(decimals))}
