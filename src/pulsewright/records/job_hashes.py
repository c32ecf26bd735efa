"""What a job now holds, as two fingerprints: of its sheets, and of its pulls with what is said about them.

An answer names the two it was made from, and is current as long as they stay.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection

from pulsewright.records import side_files
from pulsewright.records.job_rows import read_job
from pulsewright.records.pull_files import TIME, read_pull_files
from pulsewright.records.setups import SetupRow, current_setups

WORDS_ONLY = ("note", TIME)  # settings of a pull that move no number
NOT_DATA = ("workshop",)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hashes:
    """SHA-256, hexadecimal."""

    sheet: str  # of the setups that have pulls, or of all where none has
    data: str  # of pulls, their settings and the settings of the job


def hashes_of(connection: Connection, job: int) -> Hashes:
    """The fingerprints of a job as it now is."""
    pulls = read_pull_files(connection, job)
    rows = {row.name: row for row in current_setups(connection, job)}
    pulled = {pull.setup for pull in pulls} or set(rows)
    settings = {key: value for key, value in read_job(connection, job).settings.items() if key not in NOT_DATA}
    entries = [
        [pull.sha256, pull.setup, {key: v for key, v in pull.settings.items() if key not in WORDS_ONLY}]
        for pull in pulls
    ]
    return Hashes(
        sheet=_digest([[name, _chain(rows[name], rows)] for name in rows if name in pulled]),
        data=_digest([entries, settings, side_files.fingerprints(connection, job)]),
    )


def _chain(row: SetupRow, rows: dict[str, SetupRow]) -> list[Any]:
    """The sheet at the root of a setup, and all changes from there."""
    below = [row.sheet_text] if row.based_on is None else _chain(rows[row.based_on], rows)
    return [*below, row.changes]


def _digest(value: Any) -> str:
    return hashlib.sha256(json.dumps(value, sort_keys=True).encode()).hexdigest()
