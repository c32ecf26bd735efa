"""Reading a store that cannot be written: on a read-only disk, or in a folder of somebody else.

SQLite wants its log and the log's index beside the file even to read it. Where they are there (somebody else writes)
they are used. Where they cannot be made the file is read as one that nobody changes, and where the log still holds
what was confirmed last, since its writer was killed, a copy of both is read.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
import threading
from contextlib import closing
from pathlib import Path
from urllib.parse import quote

from sqlalchemy import create_engine, event
from sqlalchemy.pool import NullPool

LOG = "-wal"
WAIT = 15.0  # [s] for another process


def is_read_only(file: Path) -> bool:
    """Whether a store is there that this process cannot write."""
    return file.is_file() and not (os.access(file, os.W_OK) and os.access(file.parent, os.W_OK))


class StillReader:
    """Reads the SQLite file of such a store; every connection looks anew."""

    def __init__(self, file: Path) -> None:
        self._file = file
        self._copied: tuple[tuple[int, ...], tempfile.TemporaryDirectory[str]] | None = None
        self._lock = threading.Lock()
        self.engine = create_engine("sqlite://", creator=self.connect, poolclass=NullPool, hide_parameters=True)
        event.listen(self.engine, "begin", lambda c: c.exec_driver_sql("BEGIN"))

    def close(self) -> None:
        """Let go of the copy, where one was needed."""
        with self._lock:
            if self._copied is not None:
                self._copied[1].cleanup()
            self._copied = None

    def connect(self) -> sqlite3.Connection:
        """A connection that only reads."""
        try:
            return _opened(self._file, "mode=ro")
        except sqlite3.OperationalError:
            log = self._log()
            if log.is_file() and log.stat().st_size:
                return _opened(self._copy(), "mode=rw")
            return _opened(self._file, "immutable=1")

    def _log(self) -> Path:
        return self._file.with_name(self._file.name + LOG)

    def _copy(self) -> Path:
        """The file with its log, in a place where SQLite can put both together; made once while they stay the same."""
        both = self._file, self._log()
        stamp = tuple(n for path in both for n in (path.stat().st_mtime_ns, path.stat().st_size))
        with self._lock:
            if self._copied is None or self._copied[0] != stamp:
                former, place = self._copied, tempfile.TemporaryDirectory(prefix="pulsewright-")
                for path in both:
                    shutil.copyfile(path, Path(place.name) / path.name)
                self._copied = stamp, place
                if former is not None:
                    former[1].cleanup()
            return Path(self._copied[1].name) / self._file.name


def _opened(file: Path, how: str) -> sqlite3.Connection:
    """Raises sqlite3.OperationalError where it cannot be read so."""
    connection = sqlite3.connect(f"file:{quote(str(file))}?{how}", uri=True, timeout=WAIT, check_same_thread=False)
    try:
        connection.isolation_level = None
        connection.execute("PRAGMA query_only = ON").close()
        with closing(connection.execute("SELECT count(*) FROM sqlite_master")) as found:
            found.fetchone()
    except BaseException:
        connection.close()
        raise
    return connection
