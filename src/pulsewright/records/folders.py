"""Where things are kept: the store that a person names, else the place that this system has for it."""

import os
from pathlib import Path

from pulsewright.errors import InputError

STORE_VARIABLE = "PULSEWRIGHT_STORE"


def is_address(place: Path | str) -> bool:
    """Whether a store is named by the URL of a database server and not by a folder."""
    return isinstance(place, str) and "://" in place


def store_place(given: Path | str | None = None) -> Path | str:
    """The place of the record store: a folder, made if it is not there, or the URL of a database.

    The first of: `given` (`--store`), the environment variable PULSEWRIGHT_STORE, the user's data folder.
    """
    chosen = given or os.environ.get(STORE_VARIABLE)
    return chosen if chosen and is_address(chosen) else store_folder(given)


def store_folder(given: Path | str | None = None) -> Path:
    """The folder for what is kept in files, made if it is not there.

    That of the record store; where the store is a database on a server, the user's data folder.
    """
    chosen = given or os.environ.get(STORE_VARIABLE)
    if chosen and not is_address(chosen):
        return made_folder(Path(chosen).expanduser())
    import platformdirs

    return made_folder(Path(platformdirs.user_data_dir("pulsewright", appauthor=False)))


def cache_folder() -> Path:
    """The folder for what can be made again at any time, made if it is not there."""
    import platformdirs

    return made_folder(Path(platformdirs.user_cache_dir("pulsewright", appauthor=False)))


def made_folder(folder: Path) -> Path:
    """The folder, made if it is not there. Raises InputError where it cannot be."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            f"cannot make the folder: {error.strerror}",
            where=str(folder),
            hint=f"name another one with --store or {STORE_VARIABLE}",
        ) from error
    return folder
