"""Finished rows of numbers by key: an append-only file, a line a row with its checksum.

A line that a crash has torn does not count; of two lines with one key the first does. Several processes may add
to one file: a line is written in one piece.
"""

from __future__ import annotations

import json
import math
import os
import threading
import zlib
from pathlib import Path

from pulsewright.errors import InputError

Row = dict[str, list[float]]


class KeptRows:
    """Rows in memory and in a file, which is made where it is not there. Safe for threads."""

    def __init__(self, path: Path) -> None:
        self.path, self._rows, self._lock = path, dict[str, Row](), threading.Lock()
        try:
            lines = path.read_bytes().split(b"\n") if path.exists() else []
            self._file = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o644)
        except OSError as error:
            raise InputError(f"cannot keep results: {error.strerror}", where=str(path)) from error
        for line in lines:
            self._take_in(line)
        if lines and lines[-1]:
            os.write(self._file, b"\n")  # ends a torn line

    def __enter__(self) -> KeptRows:
        return self

    def __exit__(self, *_: object) -> None:
        os.close(self._file)

    def __len__(self) -> int:
        return len(self._rows)

    def get(self, key: str) -> Row | None:
        """A finished row, or None."""
        return self._rows.get(key)

    def put(self, key: str, row: Row) -> None:
        """Keep a finished row."""
        plain = {name: [v if math.isfinite(v) else None for v in values] for name, values in row.items()}
        rest = json.dumps([key, plain], separators=(",", ":"), allow_nan=False).encode()
        with self._lock:
            if key not in self._rows:
                self._rows[key] = row
                os.write(self._file, b"%08x %s\n" % (zlib.crc32(rest), rest))

    def _take_in(self, line: bytes) -> None:
        mark, _, rest = line.partition(b" ")
        if mark != b"%08x" % zlib.crc32(rest):
            return
        key, plain = json.loads(rest)
        row = {name: [math.nan if v is None else v for v in values] for name, values in plain.items()}
        self._rows.setdefault(key, row)
