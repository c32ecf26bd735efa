"""The log of finished designs: append-only, one line a design, each with its checksum.

A line is `CRC NUMBER JSON`: the CRC-32 of the rest in eight hexadecimal digits, the number of the design in
the plan, and its result. A result counts once its line is on the disk, whole. A line that a crash has torn
does not count, is cut off when the log is opened again, and its design is computed again. Of two lines of
one design the first counts; none is ever written twice by this file.
"""

from __future__ import annotations

import dataclasses
import fcntl
import json
import os
from collections.abc import Iterable, Iterator
from pathlib import Path
from types import TracebackType

import numpy as np

from pulsewright.errors import InputError
from pulsewright.many.checked_line import rest_of, with_checksum
from pulsewright.many.design import DesignResult

NOWHERE = -1
FIELDS = tuple(field.name for field in dataclasses.fields(DesignResult))


class ResultsLog:
    """An open log; only one process can have it open.

    path : of the file, made where it is not there.
    designs : how many designs the plan has.
    """

    def __init__(self, path: Path, designs: int) -> None:
        self.path = path
        self.unreadable = 0  # lines that did not match their checksum
        self._places = np.full(designs + 1, NOWHERE, dtype=np.int64)  # byte of the line, by number
        self._file = os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o644)
        try:
            self._lock()
            self._end = self._scan()
        except BaseException:
            os.close(self._file)
            raise

    def __enter__(self) -> ResultsLog:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        os.close(self._file)

    def __len__(self) -> int:
        return int(np.count_nonzero(self._places != NOWHERE))

    def __contains__(self, number: int) -> bool:
        return bool(self._places[number] != NOWHERE)

    def add(self, results: Iterable[DesignResult]) -> int:
        """Keep results of designs that are not in the log yet; returns how many. They are on the disk then."""
        places, lines, at = {}, [], self._end
        for result in results:
            if result.number not in self and result.number not in places:
                places[result.number] = at
                lines.append(_line(result))
                at += len(lines[-1])
        try:
            _write(self._file, b"".join(lines))
            os.fsync(self._file)
        except OSError as error:
            hint = "make room and run the same command again; what is in the log is kept"
            raise InputError(f"cannot write results: {error.strerror}", where=str(self.path), hint=hint) from error
        for number, place in places.items():
            self._places[number] = place
        self._end = at
        return len(places)

    def in_order(self) -> Iterator[DesignResult]:
        """All results by number."""
        with self.path.open("rb") as file:
            for place in self._places[self._places != NOWHERE].tolist():
                file.seek(place)
                yield DesignResult(**json.loads(file.readline().split(b" ", 2)[2]))

    def _lock(self) -> None:
        try:
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            raise InputError(
                "another run is writing to this folder", where=str(self.path.parent), hint="wait for it, or stop it"
            ) from None

    def _scan(self) -> int:
        """Find every whole line, cut off a torn end, and return where the log ends."""
        at = 0
        with self.path.open("rb") as file:
            for line in file:
                if not line.endswith(b"\n"):
                    os.ftruncate(self._file, at)
                    break
                number = _number(line, self._places.size)
                if number is None:
                    self.unreadable += 1
                elif number not in self:
                    self._places[number] = at
                at += len(line)
        return at


def _line(result: DesignResult) -> bytes:
    values = {name: getattr(result, name) for name in FIELDS}  # `asdict` would copy every number
    text = json.dumps(values, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return with_checksum(f"{result.number} {text}".encode())


def _number(line: bytes, size: int) -> int | None:
    """Number of the design of a line; None where the line is damaged."""
    rest = rest_of(line)
    if rest is None:
        return None
    number = int(rest.partition(b" ")[0])
    return number if 0 < number < size else None


def _write(file: int, data: bytes) -> None:
    while data:
        data = data[os.write(file, data) :]
