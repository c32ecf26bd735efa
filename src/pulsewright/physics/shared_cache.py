"""What Numba's disk cache lacks where several processes, and kernels for several sizes of case, share it.

Both gaps were seen to give wrong kernels: a march for few cells ran on the arrays of many.
"""

from __future__ import annotations

import fcntl
import hashlib
import os
import threading
from pathlib import Path
from typing import Any, NoReturn

import numba
from numba.core.caching import IndexDataCacheFile

_save = IndexDataCacheFile.save
_saving = threading.Lock()
LONGEST_SAVE = 2.0  # [s] that the end of a process waits for one


def make_cache_shareable() -> None:
    """Give record types lasting names, and let one process at a time write into the cache."""
    numba.types.Record.mangling_args = property(lasting_name)  # type: ignore[method-assign]
    IndexDataCacheFile.save = save_alone  # type: ignore[method-assign]


def lasting_name(record: Any) -> tuple[str, tuple[str]]:
    """What the machine code calls a record type: by what it holds, so that every process calls it the same.

    Numba numbers record types as a process meets them. Kernels for two sizes of case, compiled by two processes, can
    then bear one name, and a process that loads both takes one for the other.
    """
    return "Record", ("r" + hashlib.sha256(record.name.encode()).hexdigest()[:16],)


def save_alone(cache: Any, key: Any, data: Any) -> None:
    """Write one compiled function into the cache while no other process does.

    Numba reads its index, takes the next free file name and writes both: of two processes at once, one loses its
    entry in the index, or its file to the other's code.
    """
    folder = Path(cache._cache_path)
    folder.mkdir(parents=True, exist_ok=True)
    with _saving, (folder / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)  # let go when the file is closed, also by a kill
        _save(cache, key, data)


def end_process(code: int) -> NoReturn:
    """End this process now, whatever its threads compute, but not while one of them writes into the cache.

    A thread that compiles cannot be stopped, and Python would wait for it.
    """
    _saving.acquire(timeout=LONGEST_SAVE)
    os._exit(code)
