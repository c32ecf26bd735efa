"""Whether a store is whole."""

from __future__ import annotations

from sqlalchemy import Connection, func, select, text

from pulsewright.records.raw_files import fingerprint
from pulsewright.records.tables import jobs, raw_files, setup_states, setups


def quick_problems(connection: Connection) -> list[str]:
    """What the database itself finds wrong: its pages, and rows that point at what is not there."""
    if connection.dialect.name != "sqlite":
        return []  # the server looks after its own files
    lines = connection.execute(text("PRAGMA integrity_check(20)")).scalars().all()
    astray = connection.execute(text("PRAGMA foreign_key_check")).all()
    return [
        *[line for line in lines if line != "ok"],
        *[f"a row of {row[0]} points at a row of {row[2]} that is not there" for row in astray[:20]],
    ]


def problems(connection: Connection) -> list[str]:
    """All that is wrong: that, bytes that are not those that were kept, and what is half there."""
    return [*quick_problems(connection), *_changed_bytes(connection), *_half_there(connection)]


def _changed_bytes(connection: Connection) -> list[str]:
    rows = connection.execution_options(yield_per=1).execute(select(raw_files))
    return [
        f"the bytes of the file {row.sha256[:12]} are not those that were kept"
        for row in rows
        if fingerprint(row.data) != row.sha256 or row.size != len(row.data)
    ]


def _half_there(connection: Connection) -> list[str]:
    stateless = select(setups.c.name, setups.c.job).where(setups.c.id.not_in(select(setup_states.c.setup)))
    bare = select(jobs.c.id).where(jobs.c.id.not_in(select(setups.c.job)))
    found = [f"setup '{row.name}' of job {row.job} has no sheet" for row in connection.execute(stateless)]
    found += [f"job {id} has no setup" for id in connection.execute(bare).scalars()]
    known = connection.execute(select(func.count()).select_from(jobs)).scalar()
    findable = connection.execute(text("SELECT count(*) FROM job_words")).scalar()
    return found + ([] if known == findable else [f"{findable} of {known} jobs can be found by their words"])
