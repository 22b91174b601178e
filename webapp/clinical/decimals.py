"""Decimal numbers as scaled integers: the same digits in Python and in the browser."""

import re
from functools import lru_cache
from math import isqrt

SCALE_DIGITS = 6
SCALE = 10**SCALE_DIGITS
MAX_DIGITS = 6  # before the point: keeps every scaled value, times a factor, inside 2**53 for JavaScript
_DECIMAL = re.compile(rf"(-)?([0-9]{{1,{MAX_DIGITS}}})(?:\.([0-9]{{1,{SCALE_DIGITS}}}))?")


def is_decimal(text: object) -> bool:
    """Whether the text is a decimal this module can hold exactly."""
    return isinstance(text, str) and _scaled(text) is not None


def to_scaled(text: str) -> int:
    """The scaled integer of a decimal text; ValueError when it is not one."""
    scaled = _scaled(text) if isinstance(text, str) else None
    if scaled is None:
        raise ValueError("not a decimal")
    return scaled


# Readings are a few hundred different numbers, asked for again and again.
@lru_cache(maxsize=4096)
def _scaled(text: str) -> int | None:
    found = _DECIMAL.fullmatch(text)
    if found is None:
        return None
    minus, whole, part = found.groups("")
    scaled = int(whole) * SCALE + int(part.ljust(SCALE_DIGITS, "0"))
    return -scaled if minus else scaled


@lru_cache(maxsize=4096)
def from_scaled(scaled: int) -> str:
    """The canonical decimal text: no trailing zeros, no minus zero."""
    whole, part = divmod(abs(scaled), SCALE)
    fraction = str(part).rjust(SCALE_DIGITS, "0").rstrip("0")
    text = f"{whole}.{fraction}" if fraction else str(whole)
    return f"-{text}" if scaled < 0 else text


def divide_half_up(number: int, by: int) -> int:
    """Integer division to the nearest, a half going up. `by` is positive."""
    return (2 * number + by) // (2 * by)


def round_scaled(scaled: int, decimals: int) -> int:
    """The scaled value rounded half up to so many decimals."""
    step = 10 ** (SCALE_DIGITS - decimals)
    return divide_half_up(scaled, step) * step


def round_text(text: str, decimals: int) -> str:
    """A decimal text rounded half up to so many decimals."""
    return from_scaled(round_scaled(to_scaled(text), decimals))


def nearest_root(top: int, bottom: int) -> int:
    """The whole number nearest to the square root of top / bottom, a half going up; both at least 0 and 1."""
    return (isqrt(4 * top // bottom) + 1) // 2
