"""The SHEET of a command that runs the model: a setup sheet, or a session folder with one of its setups."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from pulsewright.errors import UsageError

if TYPE_CHECKING:
    from pulsewright.bench.setup import Setup


def setup_of(sheet: str, changes: Sequence[str], name: str | None = None) -> Setup:
    """The setup that SHEET, --set and --setup ask for.

    sheet : a setup sheet, a session folder, or its session.toml; then `name` picks the setup, by default
        the baseline, which is the first one listed.
    changes : texts as `--set` takes them.
    """
    from pulsewright.bench.changes import changed_text, parse_set
    from pulsewright.bench.session import read_session
    from pulsewright.bench.sheet import read_setup, setup_from_text

    pairs = [parse_set(change) for change in changes]
    if not is_session(sheet):
        if name is not None:
            raise UsageError("--setup names a setup of a session, and SHEET is none", where=sheet)
        return read_setup(sheet, pairs)
    session = read_session(sheet)
    entry = session.setup(name) if name is not None else session.setups[0]
    if not pairs:
        return entry.setup
    where = f"{sheet}, setup {entry.name}"
    return setup_from_text(changed_text(entry.text, pairs, where=where), where, name=entry.name, lines=False)


def text_of(sheet: str, changes: Sequence[str], name: str | None = None) -> tuple[str, str]:
    """The TOML text of the setup that SHEET, --set and --setup ask for, checked, and what to call it in errors."""
    from pulsewright.bench.changes import changed_text, parse_set
    from pulsewright.bench.session import read_session
    from pulsewright.bench.toml_file import read_text

    setup_of(sheet, changes, name)  # for its errors
    if is_session(sheet):
        session = read_session(sheet)
        entry = session.setup(name) if name is not None else session.setups[0]
        text, where = entry.text, f"{sheet}, setup {entry.name}"
    else:
        text, where = read_text(sheet), sheet
    return changed_text(text, [parse_set(change) for change in changes], where=where), where


def is_session(sheet: str) -> bool:
    """Whether SHEET is a session rather than a single sheet."""
    return Path(sheet).is_dir() or Path(sheet).name == "session.toml"
