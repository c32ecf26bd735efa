"""Text that a person typed, as the store can keep it on every database."""

from __future__ import annotations

import re

from pulsewright.errors import InputError

TITLE, MACHINE, NAME, NOTE, FILE_NAME = 200, 200, 100, 2000, 200  # longest, in characters
SHEET = 2_000_000
_BAD = re.compile(r"[\x00\ud800-\udfff]")  # what PostgreSQL or UTF-8 cannot hold
_SAFE_NAME = re.compile(r"\w[\w .()+-]*")
_DEVICES = re.compile(r"(?:con|prn|aux|nul|com\d|lpt\d)(?:\..*)?", re.IGNORECASE)  # names that some systems refuse


def clean(text: str, what: str, longest: int, *, needed: bool = False) -> str:
    """The text without blanks at its ends.

    Raises InputError where it is longer than allowed, holds what cannot be kept, or is needed and empty.
    """
    text = text.strip()
    if needed and not text:
        raise InputError(f"the {what} is empty", hint="write a word or two")
    if len(text) > longest:
        raise InputError(f"the {what} has {len(text)} characters; allowed: up to {longest}", hint="shorten it")
    if _BAD.search(text):
        raise InputError(f"the {what} holds a character that cannot be kept", hint="type it again")
    return text


def cut(text: str, longest: int) -> str:
    """As much of a text that no person typed as can be kept."""
    return _BAD.sub("", text)[:longest].strip()


def clean_file_name(name: str) -> str:
    """The last part of a path in either slash, to be shown; not yet fit to be written to."""
    last = re.split(r"[/\\]", _BAD.sub("", name))[-1]
    return re.sub(r"[\x00-\x1f\x7f]", "", last).strip()[-FILE_NAME:] or "unnamed"


def is_safe_file_name(name: str) -> bool:
    """Whether a file of this name can be written on every system and stays in its folder."""
    return (
        len(name.encode()) <= FILE_NAME
        and _SAFE_NAME.fullmatch(name) is not None
        and not name.endswith((".", " "))
        and _DEVICES.fullmatch(name) is None
    )
