"""How the scalar physics is compiled, and where the compiled kernels are kept.

`scalar` marks a small function that is folded into its callers, `kernel` one that is called as a
whole. Both are compiled in float64 by Numba when first called.

Numba's disk cache looks only at the file that holds a function, never at the files whose functions
were folded into it. So the cache folder is named after all source files of `physics/` and `kernel/`:
change any of them and a new folder is used. Set PULSEWRIGHT_CACHE to keep the folders elsewhere.
"""

from __future__ import annotations

import hashlib
import os
import platform
import shutil
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import numba

from pulsewright.physics.shared_cache import make_cache_shareable

F = TypeVar("F", bound=Callable[..., Any])

COMPILED_ROOMS = ("physics", "kernel")  # their sources name the cache folder
FORGET_AFTER_DAYS = 30.0
_PREFIX = "kernels-"

# 'contract' alone allows fused multiply-add; full fastmath would also make isnan(nan) False.
COMPILE_OPTIONS: dict[str, Any] = {
    "nogil": True,
    "error_model": "numpy",  # the default model tests every division and stops vectorisation
    "fastmath": {"contract"},
}


def cache_root() -> Path:
    """Folder of all kernel caches: PULSEWRIGHT_CACHE, or the user's own cache folder."""
    chosen = os.environ.get("PULSEWRIGHT_CACHE")
    if chosen:
        return Path(chosen).expanduser()
    from platformdirs import user_cache_path

    return user_cache_path("pulsewright", appauthor=False)


def source_hash() -> str:
    """Twelve hexadecimal digits that change with the compiled sources, Numba or Python."""
    digest = hashlib.sha256(f"{numba.__version__} {platform.python_version()}".encode())
    package = Path(__file__).resolve().parent.parent
    for room in COMPILED_ROOMS:
        for source in sorted((package / room).rglob("*.py")):
            digest.update(source.relative_to(package).as_posix().encode())
            digest.update(source.read_bytes())
    return digest.hexdigest()[:12]


def forget_old_kernels(root: Path, keep: Path, days: float = FORGET_AFTER_DAYS) -> list[Path]:
    """Remove kernel folders beside `keep` that no process has opened for `days`; returns them."""
    oldest = time.time() - days * 86400.0
    gone = []
    for folder in root.glob(_PREFIX + "*"):
        try:
            if folder != keep and folder.is_dir() and folder.stat().st_mtime < oldest:
                shutil.rmtree(folder)
                gone.append(folder)
        except OSError:
            continue  # another process may be tidying too, or the folder is not ours to remove
    return gone


def _settle_cache() -> Path | None:
    """This source's own folder, made and dated; None where nothing can be written."""
    root = cache_root()
    folder = root / (_PREFIX + source_hash())
    try:
        fresh = not folder.is_dir()
        folder.mkdir(parents=True, exist_ok=True)
        os.utime(folder)  # the date of last use
        if fresh:
            forget_old_kernels(root, keep=folder)
    except OSError:
        return None
    return folder


CACHE_FOLDER = _settle_cache()
make_cache_shareable()


COMPILED: list[Any] = []  # every compiled function, for the back end that compiles them for another processor


def _compile(function: F, **options: Any) -> F:
    compiled = _with_cache(function, **options)
    COMPILED.append(compiled)
    return compiled


def _with_cache(function: F, **options: Any) -> F:
    # Without a folder of our own nothing is cached: Numba's default place could serve stale kernels.
    if CACHE_FOLDER is None:
        return numba.njit(**COMPILE_OPTIONS, **options)(function)  # type: ignore[return-value]
    before = numba.config.CACHE_DIR  # type: ignore[attr-defined]
    numba.config.CACHE_DIR = str(CACHE_FOLDER)  # type: ignore[attr-defined]
    try:
        return numba.njit(cache=True, **COMPILE_OPTIONS, **options)(function)  # type: ignore[return-value]
    finally:
        numba.config.CACHE_DIR = before  # type: ignore[attr-defined]


def scalar(function: F) -> F:
    """Compile a scalar function and fold it into its callers (needed for vectorised loops)."""
    return _compile(function, forceinline=True)


def kernel(function: F) -> F:
    """Compile a function that is called as a whole: loops over arrays, marches."""
    return _compile(function)
