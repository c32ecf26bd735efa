"""Finished runs of the model by key, so that what was stopped goes on where it was and nothing is run twice.

In memory, or also in an append-only file, a line a run. A line that a crash has torn does not count; of two lines
with one key the first does. Several processes may add to one file: a line is written in one piece.
"""

from __future__ import annotations

import json
import math
import os
import threading
from pathlib import Path

from pulsewright.errors import InputError
from pulsewright.many.checked_line import rest_of, with_checksum

Row = dict[str, list[float]]  # numbers by the name of what they are


class KeptRows:
    """Runs in memory and, where a path is given, in its file, made where it is not there. Safe for threads."""

    def __init__(self, path: Path | None = None) -> None:
        self._rows, self._lock, self._file = dict[str, Row](), threading.Lock(), None
        if path is not None:
            self._open(path)

    def _open(self, path: Path) -> None:
        try:
            lines = path.read_bytes().splitlines(keepends=True) if path.exists() else []
            self._file = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o644)
        except OSError as error:
            raise InputError(f"cannot keep results: {error.strerror}", where=str(path)) from error
        for line in lines:
            self._take_in(line)
        if lines and not lines[-1].endswith(b"\n"):
            os.write(self._file, b"\n")  # ends a torn line

    def __enter__(self) -> KeptRows:
        return self

    def __exit__(self, *_: object) -> None:
        if self._file is not None:
            os.close(self._file)
            self._file = None

    def __len__(self) -> int:
        return len(self._rows)

    def get(self, key: str) -> Row | None:
        """A finished run, or None."""
        return self._rows.get(key)

    def put(self, key: str, row: Row) -> None:
        """Keep a finished run."""
        plain = {name: [v if math.isfinite(v) else None for v in values] for name, values in row.items()}
        line = with_checksum(json.dumps([key, plain], separators=(",", ":"), allow_nan=False).encode())
        with self._lock:
            if key not in self._rows:
                self._rows[key] = row
                if self._file is not None:
                    os.write(self._file, line)

    def _take_in(self, line: bytes) -> None:
        rest = rest_of(line)
        if rest is None:
            return
        key, plain = json.loads(rest)
        row = {name: [math.nan if v is None else v for v in values] for name, values in plain.items()}
        self._rows.setdefault(key, row)
