"""What stands in the file of one job, as data, and how it becomes a job again.

`job.json` in the file is a `JobFile`; `raw/SHA256` beside it are the bytes that it names.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field
from sqlalchemy import Connection, select

from pulsewright.errors import InputError
from pulsewright.records import side_files
from pulsewright.records.answers import KINDS
from pulsewright.records.job_rows import Job, read_job, touch
from pulsewright.records.jobs import insert_job
from pulsewright.records.pull_files import insert_pull_file, read_pull_files
from pulsewright.records.raw_files import read_raw
from pulsewright.records.setups import all_states, current_setups, insert_setups
from pulsewright.records.tables import answers, insert

SHA256 = r"^[0-9a-f]{64}$"


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class State(_Part):
    """One state of a setup."""

    sheet_name: str | None
    sheet_text: str | None
    changes: list[tuple[str, Any]]
    note: str
    made: AwareDatetime


class SetupPart(_Part):
    """A setup with all its states, the oldest first."""

    name: str
    based_on: str | None
    states: list[State] = Field(min_length=1)


class PullPart(_Part):
    """A pull; its bytes stand beside."""

    setup: str
    file_name: str
    sha256: str = Field(pattern=SHA256)
    recipe: dict[str, Any]
    settings: dict[str, Any]
    made: AwareDatetime


class AnswerPart(_Part):
    """A kept answer."""

    kind: str
    data: dict[str, Any]
    code: str = Field(max_length=100)
    sheet_hash: str = Field(pattern=SHA256)
    data_hash: str = Field(pattern=SHA256)
    seed: int | None
    made: AwareDatetime


class JobFile(_Part):
    """One job with all that belongs to it."""

    title: str
    machine: str
    complaint: str
    settings: dict[str, Any]
    made: AwareDatetime
    setups: list[SetupPart] = Field(min_length=1)  # in their order
    pulls: list[PullPart]  # in their order
    side_files: dict[str, str]  # name to fingerprint
    answers: list[AnswerPart]  # the oldest first

    @property
    def fingerprints(self) -> list[str]:
        """Of all bytes that belong to the job, each once."""
        return list(dict.fromkeys([*(pull.sha256 for pull in self.pulls), *self.side_files.values()]))


def read_job_file(connection: Connection, id: int) -> tuple[JobFile, dict[str, bytes]]:
    """A job as data, and the bytes that it names by their fingerprint."""
    job = read_job(connection, id)
    pulls = read_pull_files(connection, id)
    rows = connection.execute(select(answers).where(answers.c.job == id).order_by(answers.c.id)).mappings()
    data = JobFile(
        title=job.title, machine=job.machine, complaint=job.complaint, settings=job.settings, made=job.made,
        setups=_setup_parts(connection, id),
        pulls=[PullPart(**{name: getattr(pull, name) for name in PullPart.model_fields}) for pull in pulls],
        side_files=side_files.fingerprints(connection, id),
        answers=[AnswerPart(**{name: row[name] for name in AnswerPart.model_fields}) for row in rows],
    )  # fmt: skip
    return data, {sha256: read_raw(connection, sha256) for sha256 in data.fingerprints}


def _setup_parts(connection: Connection, job: int) -> list[SetupPart]:
    history = all_states(connection, job)

    def states_of(name: str) -> list[State]:
        rows = sorted((row for row in history if row.name == name), key=lambda row: row.version)
        return [State(**{field: getattr(row, field) for field in ("sheet_name", "sheet_text", "note", "made")},
                      changes=list(row.changes)) for row in rows]  # fmt: skip

    return [
        SetupPart(name=row.name, based_on=row.based_on, states=states_of(row.name))
        for row in current_setups(connection, job)
    ]


def insert_job_file(connection: Connection, data: JobFile, raw: Mapping[str, bytes]) -> Job:
    """A new job of this data. Raises InputError where something in it cannot be."""
    id = insert_job(connection, data.title, data.machine, data.complaint, data.settings, made=data.made)
    for name, sha256 in data.side_files.items():
        side_files.put(connection, id, name, raw[sha256])
    told = [(part.name, part.based_on, [state.model_dump() for state in part.states]) for part in data.setups]
    insert_setups(connection, id, told)
    for pull in data.pulls:
        insert_pull_file(
            connection, id, pull.setup, pull.file_name, raw[pull.sha256], pull.recipe, pull.settings, pull.made
        )
    for answer in data.answers:
        if answer.kind not in KINDS:
            raise InputError(f"'{answer.kind}' is no kind of answer", hint="is the file of a newer version?")
        insert(connection, answers, job=id, **answer.model_dump())
    touch(connection, id)
    return read_job(connection, id)
