"""Answers about a job: what was computed, from what, by which code. Kept answers are never changed."""

from __future__ import annotations

import functools
import hashlib
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, func, select

from pulsewright.errors import UsageError, did_you_mean
from pulsewright.many.code_version import code_version
from pulsewright.records.database import Database, NotKeptError
from pulsewright.records.job_hashes import Hashes, hashes_of
from pulsewright.records.job_rows import lock_job
from pulsewright.records.tables import answers, insert, now

KINDS = ("fit", "prediction", "explain", "advise", "expected", "judgement", "report")
ROOMS = ("pulls", "fit", "cause", "remedies")  # what can move an answer beside the model


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One answer about a job."""

    id: int
    job: int
    kind: str
    data: dict[str, Any]
    code: str  # version of the code that computed it
    sheet_hash: str
    data_hash: str
    seed: int | None
    made: datetime
    stale: tuple[str, ...]  # what has changed since: "code", "sheet", "data"

    @property
    def current(self) -> bool:
        """Whether the same question would be asked of the same sheets, pulls and code today."""
        return not self.stale


class Answers(Database):
    """What can be done with answers."""

    def keep_answer(
        self, job: int, kind: str, data: dict[str, Any], *, seed: int | None = None, made_from: Hashes | None = None
    ) -> Answer:
        """Keep an answer.

        made_from : what the job held when the computation began (`LaidOut.hashes`); where it is not said, now.

        Raises InputError where the data is no JSON; not-a-number is none.
        """
        if kind not in KINDS:
            raise UsageError(f"'{kind}' is no kind of answer", hint=did_you_mean(kind, KINDS))
        with self.writing() as connection:
            lock_job(connection, job)
            hashes = made_from or hashes_of(connection, job)
            id = insert(
                connection, answers, job=job, kind=kind, data=data, code=code_of_answers(), sheet_hash=hashes.sheet,
                data_hash=hashes.data, seed=seed, made=now(),
            )  # fmt: skip
            return _read(connection, job, answers.c.id == id)[0]

    def answers(self, job: int, kind: str | None = None) -> list[Answer]:
        """Answers about a job, of one kind or all, the newest first."""
        with self.reading() as connection:
            return _read(connection, job, True if kind is None else answers.c.kind == kind)

    def newest(self, job: int, kind: str) -> Answer | None:
        """The newest answer of a kind, current or not; None where there is none."""
        with self.reading() as connection:
            found = _read(connection, job, answers.c.kind == kind, limit=1)
            return found[0] if found else None

    def newest_id(self, job: int, kind: str) -> int | None:
        """Of the newest answer of a kind, without reading it; None where there is none."""
        with self.reading() as connection:
            query = select(func.max(answers.c.id)).where(answers.c.job == job).where(answers.c.kind == kind)
            return connection.execute(query).scalar()

    def answer(self, id: int) -> Answer:
        """One answer. Raises NotKeptError where there is none."""
        with self.reading() as connection:
            job = connection.execute(select(answers.c.job).where(answers.c.id == id)).scalar()
            if job is None:
                raise NotKeptError(f"there is no answer {id}")
            return _read(connection, job, answers.c.id == id)[0]

    def hashes(self, job: int) -> Hashes:
        """Fingerprints of what a job now holds."""
        with self.reading() as connection:
            return hashes_of(connection, job)


def _read(connection: Connection, job: int, chosen: Any, limit: int | None = None) -> list[Answer]:
    now_holds, code = hashes_of(connection, job), code_of_answers()
    query = select(answers).where(answers.c.job == job).where(chosen).order_by(answers.c.id.desc()).limit(limit)
    return [_answer(dict(row), now_holds, code) for row in connection.execute(query).mappings()]


def _answer(row: dict[str, Any], now_holds: Hashes, code: str) -> Answer:
    pairs = (
        ("code", row["code"], code),
        ("sheet", row["sheet_hash"], now_holds.sheet),
        ("data", row["data_hash"], now_holds.data),
    )
    return Answer(**row, stale=tuple(name for name, then, today in pairs if then != today))


@functools.cache
def code_of_answers() -> str:
    """Version of the model, and twelve hexadecimal digits of what reads pulls, fits, explains and advises."""
    package, digest = Path(__file__).resolve().parent.parent, hashlib.sha256()
    for room in ROOMS:
        for source in sorted((package / room).rglob("*.py")):
            digest.update(source.relative_to(package).as_posix().encode() + source.read_bytes())
    return f"{code_version()}+{digest.hexdigest()[:12]}"
