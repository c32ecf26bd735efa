"""The row of one job: read it, keep it from other writers, note that something in the job has changed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, select, update

from pulsewright.records.database import NotKeptError
from pulsewright.records.tables import jobs, now, pull_files, setup_states, setups
from pulsewright.records.words import index_job


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One machine with one complaint."""

    id: int
    title: str
    machine: str
    complaint: str
    settings: dict[str, Any]  # what else stands at the top of session.toml, as it is written there
    copied_from: int | None
    made: datetime
    changed: datetime
    binned: datetime | None  # None: not in the bin


def read_job(connection: Connection, id: int) -> Job:
    """One job. Raises NotKeptError where there is none."""
    row = connection.execute(select(jobs).where(jobs.c.id == id)).mappings().one_or_none()
    if row is None:
        raise NotKeptError(f"there is no job {id}", hint="`pulsewright jobs list` shows those there are")
    return Job(**row)


def lock_job(connection: Connection, id: int) -> Job:
    """The job, kept from other writers until the end of the transaction."""
    connection.execute(select(jobs.c.id).where(jobs.c.id == id).with_for_update())
    return read_job(connection, id)


def touch(connection: Connection, id: int) -> None:
    """Note that a job has changed, and let it be found by what it now says."""
    connection.execute(update(jobs).where(jobs.c.id == id).values(changed=now()))
    index_job(connection, id, words_of(connection, id))


def words_of(connection: Connection, id: int) -> list[str]:
    """All that a person might look a job up by."""
    job = read_job(connection, id)
    names = connection.execute(select(setups.c.name).where(setups.c.job == id)).scalars()
    notes = connection.execute(
        select(setup_states.c.note).join(setups, setups.c.id == setup_states.c.setup).where(setups.c.job == id)
    ).scalars()
    pulls = connection.execute(
        select(pull_files.c.settings).where((pull_files.c.job == id) & pull_files.c.removed.is_(None))
    ).scalars()
    of_pulls = [pull.get("note", "") for pull in pulls]
    return [job.title, job.machine, job.complaint, job.settings.get("workshop", ""), *names, *notes, *of_pulls]
