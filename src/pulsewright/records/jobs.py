"""Jobs: one machine with one complaint, from the first sheet to the last pull."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection, delete, func, select, update

from pulsewright.bench.place import Place
from pulsewright.bench.session_schema import SESSION
from pulsewright.errors import InputError
from pulsewright.records import side_files
from pulsewright.records.database import Database
from pulsewright.records.job_rows import Job, lock_job, read_job, touch
from pulsewright.records.raw_files import delete_unused
from pulsewright.records.setups import FIRST_SETUP, copy_setups, insert_setup
from pulsewright.records.tables import insert, jobs, now, pull_files, setups
from pulsewright.records.texts import MACHINE, NOTE, TITLE, clean
from pulsewright.records.words import forget_job, holding

SETTINGS = ("workshop", "invented", "riding_band", "target_lambda", "limits", "logger")  # of session.toml


@dataclass(frozen=True, slots=True, kw_only=True)
class JobLine:
    """A job in a list."""

    id: int
    title: str
    machine: str
    complaint: str
    setups: int
    pulls: int
    made: datetime
    changed: datetime
    binned: datetime | None


class Jobs(Database):
    """What can be done with jobs."""

    def jobs(self, words: str = "", *, binned: bool = False) -> list[JobLine]:
        """Jobs that hold every one of the words, or its start, in title, machine, complaint, setups or notes.

        The best come first; without words, the ones that were changed last.

        binned : those in the bin in place of the others.
        """
        inside = jobs.c.binned.is_not(None) if binned else jobs.c.binned.is_(None)
        columns = [jobs.c[name] for name in ("id", "title", "machine", "complaint", "made", "changed", "binned")]
        query = select(*columns, _count_setups(), _count_pulls()).where(inside)
        with self.reading() as connection:
            return [JobLine(**row) for row in connection.execute(holding(connection, query, words)).mappings()]

    def job(self, id: int) -> Job:
        """One job, in the bin or not. Raises NotKeptError where there is none."""
        with self.reading() as connection:
            return read_job(connection, id)

    def new_job(
        self, title: str, machine: str, complaint: str, sheet_text: str, sheet_name: str = "setup.toml", *,
        settings: dict[str, Any] | None = None,
    ) -> Job:  # fmt: skip
        """A job with one setup, "A", of this sheet.

        settings : `workshop`, `invented`, `riding_band`, `target_lambda`, `limits`, `logger` as session.toml has them.

        Raises InputError where the sheet cannot be read.
        """
        with self.writing() as connection:
            id = insert_job(connection, title, machine, complaint, settings or {})
            insert_setup(connection, id, FIRST_SETUP, sheet_text=sheet_text, sheet_name=sheet_name)
            touch(connection, id)
            return read_job(connection, id)

    def edit_job(
        self, id: int, *, title: str | None = None, machine: str | None = None, complaint: str | None = None,
        settings: dict[str, Any] | None = None,
    ) -> Job:  # fmt: skip
        """Change what is said of a job; None leaves it. `settings` replaces all of them."""
        with self.writing() as connection:
            before = lock_job(connection, id)
            values = _checked(
                before.title if title is None else title,
                before.machine if machine is None else machine,
                before.complaint if complaint is None else complaint,
                before.settings if settings is None else settings,
            )
            connection.execute(update(jobs).where(jobs.c.id == id).values(**values))
            touch(connection, id)
            return read_job(connection, id)

    def copy_job(self, id: int, title: str) -> Job:
        """A new job with the setups as they now are, the settings and their files; without pulls and answers."""
        with self.writing() as connection:
            source = lock_job(connection, id)
            copy = insert_job(
                connection, title, source.machine, source.complaint, source.settings, copied_from=source.id
            )
            copy_setups(connection, source.id, copy)
            side_files.copy(connection, source.id, copy)
            touch(connection, copy)
            return read_job(connection, copy)

    def delete_job(self, id: int) -> None:
        """Put a job in the bin. Nothing of it is lost."""
        self._bin(id, now())

    def restore_job(self, id: int) -> None:
        """Take a job out of the bin."""
        self._bin(id, None)

    def empty_bin(self, older_than: timedelta = timedelta(0)) -> int:
        """Delete for good what has lain in the bin for longer than this, and the bytes of files that no other job has.

        Returns how many jobs that were. Backups and exported files keep what they have.
        """
        with self.writing() as connection:
            old = jobs.c.binned < now() - older_than
            gone = connection.execute(select(jobs.c.id).where(old).with_for_update()).scalars().all()
            for id in gone:
                forget_job(connection, id)
            connection.execute(delete(jobs).where(jobs.c.id.in_(gone)))
            delete_unused(connection)
            return len(gone)

    def _bin(self, id: int, moment: datetime | None) -> None:
        with self.writing() as connection:
            lock_job(connection, id)
            connection.execute(update(jobs).where(jobs.c.id == id).values(binned=moment))


def _count_setups():
    return select(func.count()).where(setups.c.job == jobs.c.id).scalar_subquery().label("setups")


def _count_pulls():
    mine = (pull_files.c.job == jobs.c.id) & pull_files.c.removed.is_(None)
    return select(func.count()).select_from(pull_files).where(mine).scalar_subquery().label("pulls")


def insert_job(
    connection: Connection, title: str, machine: str, complaint: str, settings: dict[str, Any], *,
    copied_from: int | None = None, made: datetime | None = None,
) -> int:  # fmt: skip
    """A row for a job that has no setup yet; its number."""
    values = _checked(title, machine, complaint, settings)
    moment = now()
    return insert(connection, jobs, **values, copied_from=copied_from, made=made or moment, changed=moment)


def _checked(title: str, machine: str, complaint: str, settings: dict[str, Any]) -> dict[str, Any]:
    return {
        "title": clean(title, "title", TITLE, needed=True),
        "machine": clean(machine, "machine", MACHINE),
        "complaint": clean(complaint, "complaint", NOTE),
        "settings": _checked_settings(settings),
    }


def _checked_settings(settings: dict[str, Any]) -> dict[str, Any]:
    place = Place("settings of the job")
    read = SESSION.read({**settings, "setup": [{"name": FIRST_SETUP}]}, place)
    strange = [name for name in settings if name not in SETTINGS]
    if strange:
        raise InputError(f"'{strange[0]}' is no setting of a job", hint="known here: " + ", ".join(SETTINGS))
    for name in ("riding_band", "target_lambda"):
        if name in read and read[name][0] >= read[name][1]:
            raise (place / name).error(f"{name} falls; allowed: from low to high", "write the lower number first")
    return settings
