"""Files that session.toml names beside pulls and sheets: a mapping, a coast-down, a shop's limits."""

from __future__ import annotations

from sqlalchemy import Connection, delete, select

from pulsewright.errors import InputError
from pulsewright.records.database import Database
from pulsewright.records.job_rows import lock_job, touch
from pulsewright.records.raw_files import keep_raw, read_raw
from pulsewright.records.tables import side_files
from pulsewright.records.texts import clean_file_name, is_safe_file_name

TAKEN = ("session.toml", "pulls")


class SideFiles(Database):
    """What can be done with the side files of a job."""

    def side_files(self, job: int) -> dict[str, bytes]:
        """Name to bytes."""
        with self.reading() as connection:
            return {name: read_raw(connection, sha256) for name, sha256 in fingerprints(connection, job).items()}

    def keep_side_file(self, job: int, name: str, data: bytes) -> str:
        """Keep a file that the job's settings may name (`limits`, `logger.mapping`, `logger.coast_down`).

        Another file of that name is replaced. Returns the name to write into the settings.
        """
        with self.writing() as connection:
            lock_job(connection, job)
            name = put(connection, job, name, data)
            touch(connection, job)
            return name


def put(connection: Connection, job: int, name: str, data: bytes) -> str:
    """Keep a side file under the last part of its name."""
    name = clean_file_name(name)
    if not is_safe_file_name(name) or name.casefold() in TAKEN or name.casefold().startswith("setup"):
        raise InputError(
            f"a side file cannot be called '{name}'", hint="letters, digits, - and _, and not the name of a sheet"
        )
    mine = (side_files.c.job == job) & (side_files.c.name == name)
    connection.execute(delete(side_files).where(mine))
    connection.execute(side_files.insert().values(job=job, name=name, sha256=keep_raw(connection, data, name)))
    return name


def fingerprints(connection: Connection, job: int) -> dict[str, str]:
    """Name to fingerprint, in order of names."""
    query = select(side_files.c.name, side_files.c.sha256).where(side_files.c.job == job).order_by(side_files.c.name)
    return {row.name: row.sha256 for row in connection.execute(query)}


def copy(connection: Connection, source: int, target: int) -> None:
    """The same side files for another job."""
    for name, sha256 in fingerprints(connection, source).items():
        connection.execute(side_files.insert().values(job=target, name=name, sha256=sha256))
