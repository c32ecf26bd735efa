"""The database behind the record store: connections, transactions, and its failures in plain words.

SQLite in a folder, or PostgreSQL by URL. A read sees one state of the store; a write happens whole or not at all, and
what it confirmed is on the disk (write-ahead log, synchronous FULL).
"""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, StatementError

from pulsewright.errors import InputError, MissingToolError
from pulsewright.records.folders import is_address, made_folder
from pulsewright.records.read_only import StillReader, is_read_only

FILE_NAME = "records.sqlite"
LEAST_ROOM = 64 * 1024  # [bytes] what SQLite may need for its index of the log, twice over
BUSY_SECONDS = 15.0  # how long one process waits for another's write
BEGIN = "sqlite_begin"  # execution option

_DISK_FULL = ("the disk is full; nothing was kept of this", "make room, then do it again")
_READ_ONLY = (
    "the store is read-only: it can be looked at, and nothing can be kept in it",
    "check who may write there, or name another with --store",
)
_CANNOT_OPEN = ("the store cannot be opened", _READ_ONLY[1])
_DAMAGED = ("the store is damaged", "put a backup in its place; `pulsewright jobs check` says what is wrong")
_BUSY = ("the store is busy: another program is writing to it", "try again in a moment")
_DISK_FAILS = ("the disk fails to read or write the store", "see whether the disk is full or failing")
_SQLITE = {
    "FULL": _DISK_FULL,
    "READONLY": _READ_ONLY,
    "CANTOPEN": _CANNOT_OPEN,
    "PERM": _READ_ONLY,
    "CORRUPT": _DAMAGED,
    "NOTADB": ("the file is no store, or is damaged", _DAMAGED[1]),
    "BUSY": _BUSY,
    "LOCKED": _BUSY,
    "IOERR": _DISK_FAILS,
    "TOOBIG": ("this is too large for the store", "a pull file is at most 24 MB"),
}
_POSTGRES = {
    "53": ("the database server has no room left; nothing was kept of this", "make room on the server"),
    "25006": _READ_ONLY,
    "28": ("the database server refuses this user", "check user and password in the address of the store"),
    "3D": ("the server has no such database", "make it with createdb, or check the address of the store"),
    "42501": ("this user may not do that in the database", "grant the user its own schema"),
    "57": ("the database server is stopping or starting", "try again in a moment"),
    "08": ("the connection to the database server broke", "see that the server runs, then do it again"),
    "55P03": _BUSY,
    "40": _BUSY,
}


class NotKeptError(InputError):
    """What was asked for is not in the store."""


class Database:
    """Transactions on one store. `Store` adds what is kept in it."""

    def __init__(self, engine: Engine, place: str, folder: Path | None) -> None:
        self._engine = engine
        self._still: StillReader | None = None  # while the store cannot be written
        self.place = place  # for people; never with a password
        self.folder = folder  # of a SQLite store; None for a server

    @property
    def on_server(self) -> bool:
        """Whether the store is a PostgreSQL database."""
        return self.folder is None

    @property
    def read_only(self) -> bool:
        """Whether the store can be looked at and not be changed: its disk or folder cannot be written."""
        return self.folder is not None and is_read_only(self.folder / FILE_NAME)

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A connection that sees one state of the store."""
        with told(self.place), self._reader().connect() as connection:
            if self.on_server:
                connection.execution_options(isolation_level="REPEATABLE READ")
            with connection.begin():
                yield connection

    def _reader(self) -> Engine:
        if self.folder is None or not self.read_only:
            return self._engine
        if self._still is None:
            self._still = StillReader(self.folder / FILE_NAME)
        return self._still.engine

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A connection whose changes are kept together at the end, or not at all where an error comes out.

        Raises InputError where the store is read-only.
        """
        if self.read_only:
            raise InputError(_READ_ONLY[0], where=self.place, hint=_READ_ONLY[1])
        with told(self.place), self._engine.connect() as connection:
            connection.execution_options(**{BEGIN: "BEGIN IMMEDIATE"})
            with connection.begin():
                yield connection

    def close(self) -> None:
        """Let go of all connections."""
        self._engine.dispose()
        if self._still is not None:
            self._still.close()


def connect(place: Path | str) -> tuple[Engine, str, Path | None]:
    """The engine for a place, the place's name for people, and its folder where it is one.

    Raises InputError for an address that is none, MissingToolError where the driver is not installed.
    """
    if is_address(place):
        engine, name = _server(str(place))
        return engine, name, None
    folder = made_folder(Path(place))
    return sqlite_engine(folder / FILE_NAME), str(folder / FILE_NAME), folder


def sqlite_engine(path: Path) -> Engine:
    """An engine for a SQLite file, made where it is not there."""
    engine = create_engine(
        URL.create("sqlite", database=str(path)),
        hide_parameters=True,
        json_serializer=_strict_json,
        connect_args={"timeout": BUSY_SECONDS},
    )
    event.listen(engine, "connect", _set_up_sqlite)
    event.listen(engine, "begin", lambda c: c.exec_driver_sql(c.get_execution_options().get(BEGIN, "BEGIN")))
    return engine


def _set_up_sqlite(connection: Any, _record: Any) -> None:
    connection.isolation_level = None  # transactions begin where we say so
    for setting in ("journal_mode = WAL", "synchronous = FULL", "foreign_keys = ON"):
        connection.execute(f"PRAGMA {setting}").close()


def _server(address: str) -> tuple[Engine, str]:
    try:
        url = make_url(address)
    except (ArgumentError, ValueError):
        raise _no_address() from None
    if url.get_backend_name() not in ("postgresql", "postgres"):
        raise _no_address()
    name = url.set(drivername="postgresql", query={}).render_as_string(hide_password=True)
    try:
        engine = create_engine(
            url.set(drivername="postgresql+psycopg"),
            hide_parameters=True,
            json_serializer=_strict_json,
            pool_pre_ping=True,
            connect_args={"connect_timeout": 10},
        )
    except ImportError:
        raise MissingToolError(
            "a store on a PostgreSQL server needs a driver that is not installed",
            where=name,
            hint="pip install 'pulsewright[postgres]'",
        ) from None
    return engine, name


def _no_address() -> InputError:
    """Says nothing of the address itself, which may hold a password."""
    return InputError(
        "the address of the store cannot be read; allowed: a folder, or the URL of a PostgreSQL database",
        hint="write postgresql://user@host/database",
    )


def _strict_json(value: Any) -> str:
    try:
        return json.dumps(value, allow_nan=False)
    except (TypeError, ValueError) as error:
        raise InputError(f"the store cannot keep this as JSON: {error}") from None


@contextmanager
def told(place: str) -> Iterator[None]:
    """Failures of the database that a person can do something about, as InputError; defects stay what they are."""
    try:
        yield
    except StatementError as error:
        if isinstance(error.orig, InputError):  # from `_strict_json`
            raise error.orig from None
        words = _in_words(error)
        if words is None:
            raise
        words = _looked_at(words, Path(place).parent)
        raise InputError(words[0], where=place, hint=words[1]) from None


def _looked_at(words: tuple[str, str], folder: Path) -> tuple[str, str]:
    """What SQLite calls a failing disk, or a store that cannot be opened, by the name of what a look shows."""
    try:
        if words is _DISK_FAILS and shutil.disk_usage(folder).free < LEAST_ROOM:
            return _DISK_FULL
    except OSError:
        return words
    return _READ_ONLY if words is _CANNOT_OPEN and folder.is_dir() and not os.access(folder, os.W_OK) else words


def _in_words(error: StatementError) -> tuple[str, str] | None:
    lite = getattr(error.orig, "sqlite_errorname", None)
    if lite:
        return next((words for name, words in _SQLITE.items() if lite.startswith(f"SQLITE_{name}")), None)
    state = getattr(error.orig, "sqlstate", None)
    if state is None and type(error.orig).__name__ == "OperationalError":
        return ("cannot reach the database server", "see that it runs, and check the address of the store")
    return next((words for start, words in _POSTGRES.items() if (state or "").startswith(start)), None)
