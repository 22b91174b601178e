"""UUIDs that sort by the moment they were made (version 7), from a clock and random bytes given in."""

RANDOM_BYTES = 10


def uuid7(milliseconds: int, random: bytes) -> str:
    """A version 7 UUID: 48 bits of milliseconds, then ten random bytes with version and variant set."""
    if len(random) != RANDOM_BYTES or not 0 <= milliseconds < 2**48:
        raise ValueError("a UUID needs 48 bits of milliseconds and ten random bytes")
    data = bytearray(milliseconds.to_bytes(6, "big") + random)
    data[6] = data[6] & 0x0F | 0x70
    data[8] = data[8] & 0x3F | 0x80
    text = data.hex()
    return "-".join((text[:8], text[8:12], text[12:16], text[16:20], text[20:]))


def milliseconds_of(uuid: str) -> int:
    """The moment a version 7 UUID was made, by its maker's clock."""
    return int(uuid.replace("-", "")[:12], 16)
