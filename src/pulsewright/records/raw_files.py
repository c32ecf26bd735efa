"""The bytes of files as they came, once each, by their fingerprint."""

from __future__ import annotations

import hashlib

from sqlalchemy import Connection, delete, select, text

from pulsewright.errors import InputError
from pulsewright.pulls.decoding import LARGEST_FILE
from pulsewright.records.tables import pull_files, raw_files, side_files


def fingerprint(data: bytes) -> str:
    """SHA-256 in hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()


def keep_raw(connection: Connection, data: bytes, name: str) -> str:
    """Keep the bytes of a file; their fingerprint. The same bytes are kept once."""
    if not data:
        raise InputError("the file is empty", where=name, hint="export it again")
    if len(data) > LARGEST_FILE:
        raise InputError(
            f"the file is {len(data) / 1e6:.0f} MB; allowed: up to {LARGEST_FILE / 1e6:.0f} MB",
            where=name,
            hint="export one pull a file, or at a lower rate (20 to 100 rows a second are plenty)",
        )
    sha256 = fingerprint(data)
    row = insert_for(connection)(raw_files).values(sha256=sha256, size=len(data), data=data)
    connection.execute(row.on_conflict_do_nothing())
    return sha256


def insert_for(connection: Connection):
    """The insert of this database that knows what to do where the row is there already."""
    from sqlalchemy.dialects import postgresql, sqlite

    return sqlite.insert if connection.dialect.name == "sqlite" else postgresql.insert


def delete_unused(connection: Connection) -> None:
    """Delete the bytes that belong to no job."""
    if connection.dialect.name != "sqlite":  # where another might be about to use bytes that are there
        connection.execute(text("LOCK TABLE raw_files IN SHARE ROW EXCLUSIVE MODE"))
    used = select(pull_files.c.sha256).union(select(side_files.c.sha256))
    connection.execute(delete(raw_files).where(raw_files.c.sha256.not_in(used)))


def read_raw(connection: Connection, sha256: str) -> bytes:
    """The bytes of a fingerprint. Raises InputError where they are no longer what was kept."""
    data = connection.execute(select(raw_files.c.data).where(raw_files.c.sha256 == sha256)).scalar_one()
    if fingerprint(data) != sha256:
        raise InputError(
            "the bytes of a file are no longer those that were kept: the store is damaged",
            where=sha256,
            hint="put a backup in its place",
        )
    return data
