"""TOML text in and out, with errors that point at a line."""

import os
import tempfile
import tomllib
from pathlib import Path
from typing import Any

from pulsewright.bench.place import Place
from pulsewright.errors import InputError

LARGEST = 2_000_000  # [bytes] a sheet written by hand is a few thousand


def read_text(path: str | os.PathLike[str]) -> str:
    """The text of a UTF-8 file; line ends are kept."""
    try:
        size = Path(path).stat().st_size
        raw = Path(path).read_bytes() if size <= LARGEST else b""
    except OSError as error:
        hint = "give the path of a TOML file; a session is a folder with session.toml in it"
        raise InputError(f"cannot read '{path}': {error.strerror}", where=str(path), hint=hint) from None
    if size > LARGEST:
        raise InputError(
            f"'{path}' has {size} bytes; allowed: {LARGEST}", where=str(path), hint="is this a setup sheet?"
        )
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise InputError(
            f"'{path}' is not UTF-8 text", where=f"{path}, line {line}", hint="save it as UTF-8 in the editor"
        ) from None


def parse_toml(text: str, where: str, *, lines: bool = True) -> tuple[dict[str, Any], Place]:
    """Plain Python values of a TOML text, and the place that errors about them start from."""
    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        reason, _, position = str(error).rstrip(")").partition(" (at ")
        raise _unreadable(reason, ", ".join(filter(None, (where, position)))) from None
    except (ValueError, RecursionError) as error:
        raise _unreadable(str(error) or type(error).__name__, where) from None
    return values, Place(where, text=text if lines else None)


def parse_document(text: str, where: str) -> Any:
    """The tomlkit document, which keeps comments and layout."""
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    parse_toml(text, where, lines=False)  # first, for its errors: one wording for one fault
    try:
        return tomlkit.parse(text)
    except (TOMLKitError, ValueError, RecursionError) as error:
        raise _unreadable(str(error).partition("\n")[0] or type(error).__name__, where) from None


def write_text(text: str, path: str | os.PathLike[str]) -> None:
    """Write a UTF-8 file whole or not at all."""
    target = Path(path)
    try:
        with tempfile.NamedTemporaryFile(
            "w", encoding="utf-8", newline="", dir=target.parent, prefix=".writing-", delete=False
        ) as file:
            file.write(text)
        Path(file.name).replace(target)
    except OSError as error:
        raise InputError(
            f"cannot write '{path}': {error.strerror}",
            where=str(path),
            hint="choose a folder you may write to",
        ) from None


def _unreadable(reason: str, where: str) -> InputError:
    hint = "write key = value, quantities in quotes with their unit, like bore = '96 mm'"
    if "key part" in reason:  # what the reader says when a line ends inside { ... }
        hint = "keep each { ... } on one line, and put names with spaces in quotes"
    return InputError(f"the TOML cannot be read: {reason}", where=where, hint=hint)
