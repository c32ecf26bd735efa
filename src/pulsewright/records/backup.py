"""A copy of the whole store in one SQLite file, made while others work with the store.

Of a PostgreSQL store it is a SQLite store with the same rows. Putting a backup back is to copy it into an empty folder
under the name `records.sqlite`.
"""

from __future__ import annotations

import os
import secrets
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import cast

from sqlalchemy import Connection, insert, select

from pulsewright.errors import InputError
from pulsewright.records.database import FILE_NAME, Database, sqlite_engine, told
from pulsewright.records.health import quick_problems
from pulsewright.records.job_rows import words_of
from pulsewright.records.migrate import migrate
from pulsewright.records.tables import jobs, metadata, now
from pulsewright.records.words import index_job


class BackingUp(Database):
    """What can be done about losing the store."""

    def backup(self, to: Path) -> Path:
        """Copy the store into a file, check the copy, and give its path. A file that is there is never replaced.

        to : a file that is not there yet, or a folder, where the file is named by day and time.

        Raises InputError where it is there, cannot be written, or the copy is not whole.
        """
        path = to / f"pulsewright-{now():%Y-%m-%d-%H%M%S}.sqlite" if to.is_dir() else to
        draft = path.with_name(f".writing-{secrets.token_hex(6)}")
        try:
            self._copy(draft)
            _check(draft)
            with draft.open("rb+") as file:
                os.fsync(file.fileno())
            os.link(draft, path)  # fails where the name is taken
        except FileExistsError:
            raise InputError("a file of this name is there already", where=str(path), hint="name another") from None
        except OSError as error:
            raise InputError(f"cannot write the backup: {error.strerror}", where=str(path)) from None
        finally:
            for end in ("", "-wal", "-shm", "-journal"):
                draft.with_name(draft.name + end).unlink(missing_ok=True)
        return path

    def _copy(self, draft: Path) -> None:
        if self.folder is not None and self.read_only:
            with self.reading() as connection, told(str(draft)):
                _copy_file(cast(sqlite3.Connection, connection.connection.driver_connection), draft)
        elif self.folder is not None:
            with told(str(draft)), closing(sqlite3.connect(self.folder / FILE_NAME)) as source:
                _copy_file(source, draft)
        else:
            self._copy_rows(draft)

    def _copy_rows(self, draft: Path) -> None:
        """All rows of one state of a store on a server."""
        engine = sqlite_engine(draft)
        try:
            with self.reading() as source, told(str(draft)), engine.begin() as target:
                migrate(target, str(draft))
                for table in metadata.sorted_tables:
                    order = list(table.primary_key.columns)
                    for row in (
                        source.execution_options(yield_per=20).execute(select(table).order_by(*order)).mappings()
                    ):
                        target.execute(insert(table).values(**row))
                _index(target)
            with engine.connect() as target:
                target.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
        finally:
            engine.dispose()


def _copy_file(source: sqlite3.Connection, draft: Path) -> None:
    try:
        with closing(sqlite3.connect(draft)) as target:
            source.backup(target)
    except sqlite3.Error as error:
        raise InputError(
            f"cannot write the backup: {error}", where=str(draft.parent), hint="is the disk full?"
        ) from None


def _index(target: Connection) -> None:
    for id in target.execute(select(jobs.c.id)).scalars().all():
        index_job(target, id, words_of(target, id))


def _check(draft: Path) -> None:
    engine = sqlite_engine(draft)
    try:
        with told(str(draft)), engine.connect() as connection, connection.begin():
            found = quick_problems(connection)
    finally:
        engine.dispose()
    if found:
        raise InputError(f"the copy is not whole: {found[0]}", where=str(draft.parent), hint="`pulsewright jobs check`")
