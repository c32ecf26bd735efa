"""Bytes of a pull file to text: byte-order mark, UTF-8, UTF-16, else an old code page.

The digits are ASCII in every supported encoding but UTF-16, so a wrong code page can only spoil a name,
never a number. Binary content is refused.
"""

from __future__ import annotations

import codecs
import unicodedata
from pathlib import Path

from pulsewright.errors import InputError

LARGEST_FILE = 24 * 1024 * 1024  # [byte] a day of pulls at 1 kHz is under 20 MB; more is no pull file

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_CODE_PAGES = ("cp1252", "cp1250", "cp1251", "cp1253", "cp850", "mac_roman")
_BINARY_STARTS = {
    b"PK\x03\x04": "a zip archive",
    b"\xd0\xcf\x11\xe0": "an old office document",
    b"%PDF": "a PDF document",
    b"\x89PNG": "a picture",
}


def read_bytes(path: Path) -> bytes:
    """Bytes of a pull file. Raises InputError where it cannot be read or is too large to be one."""
    try:
        size = path.stat().st_size
        if size > LARGEST_FILE:
            raise InputError(
                f"the file is {size / 1e6:.0f} MB; a pull file here is at most {LARGEST_FILE / 1e6:.0f} MB",
                where=str(path),
                hint="export one pull a file, or at a lower rate (20 to 100 rows a second are plenty)",
            )
        return path.read_bytes()
    except OSError as error:
        raise InputError(
            f"the pull file cannot be read: {error.strerror or error}",
            where=str(path),
            hint="check the file name in the session",
        ) from error


def decode(data: bytes, *, where: str) -> tuple[str, str]:
    """Decode the bytes of a delimited text file. Returns text without byte-order mark, encoding name."""
    _refuse_binary(data, where)
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            return _strict(data, encoding, where), encoding
    if _looks_like_utf16(data):
        encoding = "utf-16-le" if data[1:2] == b"\x00" else "utf-16-be"
        return _strict(data, encoding, where), encoding
    try:
        return _without_control(data.decode("utf-8"), where), "utf-8"
    except UnicodeDecodeError:
        encoding = _code_page(data)
        return _without_control(data.decode(encoding, errors="replace"), where), encoding


def _refuse_binary(data: bytes, where: str) -> None:
    for start, meaning in _BINARY_STARTS.items():
        if data.startswith(start):
            raise InputError(
                f"the file is {meaning}, not delimited text",
                where=where,
                hint="export the pull as CSV or tab-separated text",
            )


def _strict(data: bytes, encoding: str, where: str) -> str:
    try:
        return _without_control(data.decode(encoding), where)
    except UnicodeDecodeError as error:
        raise InputError(
            f"the file claims to be {encoding} but does not decode: {error.reason} at byte {error.start}",
            where=where,
            hint="export it again, or save it as UTF-8",
        ) from error


def _looks_like_utf16(data: bytes) -> bool:
    head = data[:200]
    if len(head) < 4:
        return False
    return max(head[0::2].count(0), head[1::2].count(0)) > len(head) // 4


def _without_control(text: str, where: str) -> str:
    bad = next((c for c in text if unicodedata.category(c) == "Cc" and c not in "\r\n\t\x0c\x1a"), None)
    if bad is not None:
        raise InputError(
            f"the file holds the control character {bad!r}, so it is not plain text",
            where=where,
            hint="export the pull as CSV or tab-separated text",
        )
    return text.replace("\x1a", "").replace("\x0c", "\n")


def _code_page(data: bytes) -> str:
    """Code page whose reading of the first lines holds most known words; ties to the detector's order."""
    from charset_normalizer import from_bytes

    from pulsewright.pulls.channel_words import count_known_words

    head = data[:4000]
    ranked = [match.encoding for match in from_bytes(head, cp_isolation=list(_CODE_PAGES))]
    candidates = [*ranked, *(page for page in _CODE_PAGES if page not in ranked)]
    return max(
        candidates,
        key=lambda page: (count_known_words(head.decode(page, "replace")), -candidates.index(page)),
    )
