"""Which code computed a design: results of other code are never mixed with it."""

from __future__ import annotations

import functools
import hashlib
import platform
from importlib.metadata import version
from pathlib import Path

from pulsewright import __version__

# What can move a number of a design.
ROOMS = ("units.py", "physics", "bench", "kernel", "network", "simulate")
LIBRARIES = ("numpy", "numba", "scipy")


@functools.cache
def code_version() -> str:
    """Release, and twelve hexadecimal digits that change with the sources, the libraries and Python."""
    package = Path(__file__).resolve().parent.parent
    digest = hashlib.sha256(platform.python_version().encode())
    for name in LIBRARIES:
        digest.update(f"{name} {version(name)} ".encode())
    for room in ROOMS:
        top = package / room
        for source in [top] if top.is_file() else sorted(top.rglob("*.py")):
            digest.update(source.relative_to(package).as_posix().encode())
            digest.update(source.read_bytes())
    return f"{__version__}+{digest.hexdigest()[:12]}"
