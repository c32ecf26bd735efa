"""Put the invented session into a folder, without touching what somebody else keeps there."""

from __future__ import annotations

import shutil
from pathlib import Path

from pulsewright.errors import InputError

SESSION = Path(__file__).parent / "session"
MARK = "session.toml"  # where this lies unchanged, the folder was made by an earlier demo


def copy_session(folder: Path) -> Path:
    """Copy the session into a folder that is new, empty, or from an earlier demo; return the folder.

    Raises
    ------
    InputError : the folder holds something else, or files of the demo that were changed since.
    """
    if folder.exists() and not folder.is_dir():
        raise InputError("a file is in the way of the demo's folder", where=str(folder), hint="choose another with -o")
    if folder.is_dir() and any(folder.iterdir()):
        _refuse_what_is_not_ours(folder)
    for source in _files():
        target = folder / source.relative_to(SESSION)
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(source, target)
    return folder


def _files() -> list[Path]:
    return [path for path in sorted(SESSION.rglob("*")) if path.is_file()]


def _refuse_what_is_not_ours(folder: Path) -> None:
    if not (folder / MARK).is_file() or (folder / MARK).read_bytes() != (SESSION / MARK).read_bytes():
        raise InputError(
            "the folder holds something that is not this demo; nothing was written",
            where=str(folder),
            hint="choose a new folder with -o",
        )
    for source in _files():
        target = folder / source.relative_to(SESSION)
        if target.exists() and target.read_bytes() != source.read_bytes():
            raise InputError(
                "a file of the demo was changed since; it is not overwritten",
                where=str(target),
                hint="choose a new folder with -o, or remove the file",
            )
