"""A real disk of a few megabytes, where this person may mount one: to be filled, and to be made read-only."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest


class SmallDisk:
    """A mounted tmpfs."""

    def __init__(self, place: Path) -> None:
        self.place = place

    def fill(self, leave: int = 0) -> None:
        """Write until nothing fits any more but `leave` bytes."""
        free = os.statvfs(self.place)
        room = free.f_bavail * free.f_frsize - leave
        with open(self.place / "filler", "ab", buffering=0) as file:
            file.write(bytes(max(room, 0)))

    def empty(self) -> None:
        """Make room again."""
        (self.place / "filler").unlink()

    def read_only(self, on: bool) -> None:
        """Let nobody write, not even root; or let them again."""
        subprocess.run(["mount", "-o", f"remount,{'ro' if on else 'rw'}", str(self.place)], check=True)


@contextmanager
def small_disk(place: Path, size: str) -> Iterator[SmallDisk]:
    """Mounted over `place` while it is used; the test is skipped where that is not allowed."""
    place.mkdir(exist_ok=True)
    command = ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(place)]
    if not shutil.which("mount") or subprocess.run(command, capture_output=True).returncode != 0:
        pytest.skip("a disk of its own cannot be mounted here (that takes root on Linux)")
    try:
        yield SmallDisk(place)
    finally:
        subprocess.run(["umount", "-l", str(place)], check=True)
