"""Finished runs of the model, kept by key so that a fit that was stopped goes on where it was."""

from __future__ import annotations

import json
import threading
import zlib
from pathlib import Path

Curves = tuple[list[float], list[float]]  # torque [N m] and lambda over the speeds of a run


class RunStore:
    """Runs in memory, and in an append-only file where one is named: a line a run, with its checksum.

    A line that a crash has torn does not count. Safe for the threads of one process.
    """

    def __init__(self, path: Path | None = None) -> None:
        self._path, self._runs, self._lock = path, dict[str, Curves](), threading.Lock()
        if path is not None and path.exists():
            for line in path.read_bytes().splitlines(keepends=True):
                self._take_in(line)
            if not path.read_bytes().endswith(b"\n"):
                with path.open("ab") as file:
                    file.write(b"\n")  # ends a torn line

    def __len__(self) -> int:
        return len(self._runs)

    def get(self, key: str) -> Curves | None:
        """A finished run, or None."""
        return self._runs.get(key)

    def put(self, key: str, curves: Curves) -> None:
        """Keep a finished run; of two with one key the first counts."""
        rest = json.dumps([key, *curves], separators=(",", ":")).encode()
        with self._lock:
            if key in self._runs:
                return
            self._runs[key] = curves
            if self._path is not None:
                with self._path.open("ab") as file:
                    file.write(b"%08x %s\n" % (zlib.crc32(rest), rest))

    def _take_in(self, line: bytes) -> None:
        mark, _, rest = line.rstrip(b"\n").partition(b" ")
        if mark == b"%08x" % zlib.crc32(rest) and line.endswith(b"\n"):
            key, torque, mixture = json.loads(rest)
            self._runs[key] = (torque, mixture)
