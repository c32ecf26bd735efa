"""One line of an append-only file with its checksum: `CRC REST`, the CRC-32 of the rest in eight hexadecimal digits.

A line that a crash has torn, or that was changed by hand, does not carry its own checksum.
"""

from __future__ import annotations

import zlib


def with_checksum(rest: bytes) -> bytes:
    """The line as it is written, its end included."""
    rest += b"\n"
    return b"%08x %s" % (zlib.crc32(rest), rest)


def rest_of(line: bytes) -> bytes | None:
    """What stands behind the checksum, its end included; None where the line is torn or damaged."""
    mark, _, rest = line.partition(b" ")
    return rest if rest.endswith(b"\n") and mark == b"%08x" % zlib.crc32(rest) else None
