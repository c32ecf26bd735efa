"""Where things are kept: the store that a person names, else the place that this system has for it."""

import os
from pathlib import Path

from pulsewright.errors import InputError

STORE_VARIABLE = "PULSEWRIGHT_STORE"


def store_folder(given: Path | str | None = None) -> Path:
    """The folder of the record store, made if it is not there.

    The first of: `given` (`--store`), the environment variable PULSEWRIGHT_STORE, the user's data folder.
    """
    chosen = given or os.environ.get(STORE_VARIABLE)
    if chosen:
        return _made(Path(chosen).expanduser())
    import platformdirs

    return _made(Path(platformdirs.user_data_dir("pulsewright", appauthor=False)))


def cache_folder() -> Path:
    """The folder for what can be made again at any time, made if it is not there."""
    import platformdirs

    return _made(Path(platformdirs.user_cache_dir("pulsewright", appauthor=False)))


def _made(folder: Path) -> Path:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            f"cannot make the folder: {error.strerror}",
            where=str(folder),
            hint=f"name another one with --store or {STORE_VARIABLE}",
        ) from error
    return folder
