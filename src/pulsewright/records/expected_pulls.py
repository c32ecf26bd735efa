"""Forecasts written down before the pull is made. A file that is there is never overwritten."""

from __future__ import annotations

import json
import os
import tempfile
from pathlib import Path

from pulsewright.errors import InputError
from pulsewright.remedies.expected_pull import ExpectedPull, from_json


def write_expected(expected: ExpectedPull, folder: Path) -> Path:
    """Write a forecast whole or not at all; the same forecast again gives the file that is there."""
    folder.mkdir(parents=True, exist_ok=True)
    text = json.dumps(expected.as_json(), ensure_ascii=False, indent=1, allow_nan=False) + "\n"
    name = f"{expected.session}-{expected.before_sheet}-{expected.sheet}"
    with tempfile.NamedTemporaryFile("w", encoding="utf-8", dir=folder, prefix=".writing-", delete=False) as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    try:
        for number in range(1, 10_000):
            path = folder / (f"{name}.json" if number == 1 else f"{name}-{number}.json")
            try:
                os.link(file.name, path)  # fails where the name is taken, whoever took it
                return path
            except FileExistsError:
                if path.read_text(encoding="utf-8") == text:
                    return path
        raise InputError("too many forecasts of one change are kept", where=str(folder), hint="move old ones away")
    finally:
        Path(file.name).unlink(missing_ok=True)


def read_expected(path: Path) -> ExpectedPull:
    """Read a forecast. Raises InputError where the file is none."""
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise InputError(f"cannot read '{path}': {error.strerror}", where=str(path)) from error
    except ValueError as error:
        raise InputError(f"this is no expected pull: {error}", where=str(path)) from error
    return from_json(data, str(path))


def expected_of_sheet(folder: Path, sheet: str) -> list[tuple[Path, ExpectedPull]]:
    """Forecasts for a machine by the hash of its sheet, the newest first."""
    if not folder.is_dir():
        return []
    files = sorted(folder.glob(f"*-{sheet}*.json"), key=lambda f: (-f.stat().st_mtime_ns, f.name))
    found = [(file, read_expected(file)) for file in files]
    return [(file, each) for file, each in found if each.sheet == sheet]


def latest_of_session(folder: Path, session: str) -> ExpectedPull | None:
    """The newest forecast that was made for a session's folder, None where there is none."""
    files = sorted(folder.glob(f"{session}-*.json"), key=lambda f: -f.stat().st_mtime_ns) if folder.is_dir() else []
    found = (read_expected(file) for file in files)
    return next((each for each in found if each.session == session), None)
