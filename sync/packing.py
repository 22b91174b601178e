"""Messages packed with gzip: a page of entries travels in an eighth of its bytes.

By zlib-ng, which packs the same bytes as closely as the standard library's zlib in less than half the time.
"""

from zlib_ng import zlib_ng as zlib

from sync.errors import MessageError

WORTH_PACKING = 1024
_GZIP = 31


def pack(data: bytes) -> bytes:
    """The bytes as gzip; the same bytes give the same gzip."""
    packer = zlib.compressobj(wbits=_GZIP)
    return packer.compress(data) + packer.flush()


def pack_closely(data: bytes) -> bytes:
    """The same in fewer bytes, for twice the time: what the server does for a slow line's sake.

    Ids and hashes are hex digits without repeats, and the strategy is meant for such: a page of entries and
    the answer to a push take a twentieth less (measured, November 2026).
    """
    packer = zlib.compressobj(level=8, wbits=_GZIP, strategy=zlib.Z_FILTERED)
    return packer.compress(data) + packer.flush()


def unpack(data: bytes, limit: int) -> bytes:
    """The gzip content of some bytes, never holding more than the limit in memory.

    MessageError with the code `bad_gzip` when it is damaged or cut, `too_large` when there is more of it.
    """
    unpacker = zlib.decompressobj(wbits=_GZIP)
    try:
        unpacked = unpacker.decompress(data, limit + 1)
    except zlib.error as error:
        raise MessageError("bad_gzip", "The compressed message is damaged.") from error
    if len(unpacked) > limit:
        raise MessageError("too_large", "The compressed message is too large.")
    if not unpacker.eof or unpacker.unused_data:
        raise MessageError("bad_gzip", "The compressed message is damaged.")
    return unpacked
