"""Pull files of a job: the bytes as they came, how they were read, and what is known of the pull."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, func, select, update

from pulsewright.bench.place import Place
from pulsewright.bench.session_schema import PULL_ENTRY
from pulsewright.errors import InputError
from pulsewright.records.database import Database, NotKeptError
from pulsewright.records.job_rows import lock_job, touch
from pulsewright.records.raw_files import fingerprint, keep_raw, read_raw
from pulsewright.records.setups import setup_id
from pulsewright.records.tables import insert, now, pull_files, setups
from pulsewright.records.texts import clean_file_name

TIME = "time"  # setting that only the store knows: when the pull was made, in the person's words


@dataclass(frozen=True, slots=True, kw_only=True)
class PullFile:
    """One pull of a job."""

    id: int
    job: int
    number: int  # order in the session, from 1
    setup: str
    file_name: str  # as the person's file was called: to be shown, not to be written to
    sha256: str  # of the raw bytes
    recipe: dict[str, Any]  # how the file was read: `Recipe.as_json()`; empty: not told
    settings: dict[str, Any]  # of the pull, as session.toml has them: kind, air, head_temperature, note, number
    made: datetime


class PullFiles(Database):
    """What can be done with the pulls of a job."""

    def pull_files(self, job: int) -> list[PullFile]:
        """The pulls of a job in their order."""
        with self.reading() as connection:
            return read_pull_files(connection, job)

    def pull_file(self, id: int) -> PullFile:
        """One pull. Raises NotKeptError where there is none."""
        with self.reading() as connection:
            return _one(connection, id)

    def raw(self, pull_file: PullFile | int) -> bytes:
        """The bytes of a pull's file as they came. Raises InputError where the store has lost them."""
        with self.reading() as connection:
            pull = pull_file if isinstance(pull_file, PullFile) else _one(connection, pull_file)
            return read_raw(connection, pull.sha256)

    def add_pull_file(
        self, job: int, setup: str, file_name: str, raw: bytes, recipe: dict[str, Any] | None = None,
        settings: dict[str, Any] | None = None,
    ) -> PullFile:  # fmt: skip
        """Add a pull at the end of a job.

        settings : `kind`, `air`, `head_temperature`, `note`, `number` (which pull of a file that holds several) as
            session.toml has them, and `time`, when it was made.

        Raises InputError where the job has this pull already, or a setting cannot be.
        """
        with self.writing() as connection:
            lock_job(connection, job)
            id = insert_pull_file(connection, job, setup, file_name, raw, recipe or {}, settings or {})
            touch(connection, job)
            return _one(connection, id)

    def edit_pull_file(
        self, id: int, *, setup: str | None = None, recipe: dict[str, Any] | None = None,
        settings: dict[str, Any] | None = None, number: int | None = None,
    ) -> PullFile:  # fmt: skip
        """Correct what is known of a pull; None leaves it. The bytes stay. `number` moves it in the order."""
        with self.writing() as connection:
            pull = _one(connection, id)
            lock_job(connection, pull.job)
            values: dict[str, Any] = {}
            if setup is not None:
                values["setup"] = setup_id(connection, pull.job, setup)
            if recipe is not None:
                values["recipe"] = recipe
            if settings is not None:
                values |= {"settings": _checked(settings, pull.file_name), "in_file": settings.get("number", 0)}
                _refuse_twice(connection, pull.job, pull.sha256, values["in_file"], other_than=id)
            if values:
                connection.execute(update(pull_files).where(pull_files.c.id == id).values(**values))
            if number is not None:
                _move(connection, pull, number)
            touch(connection, pull.job)
            return _one(connection, id)

    def remove_pull_file(self, id: int) -> None:
        """Take a pull out of its job. Its bytes stay in the store."""
        with self.writing() as connection:
            pull = _one(connection, id)
            lock_job(connection, pull.job)
            connection.execute(update(pull_files).where(pull_files.c.id == id).values(removed=now()))
            _number_anew(connection, [each.id for each in read_pull_files(connection, pull.job)])
            touch(connection, pull.job)


def _query():
    names = ("id", "job", "number", "file_name", "sha256", "recipe", "settings", "made")
    columns = [pull_files.c[name] for name in names]
    return (
        select(*columns, setups.c.name.label("setup"))
        .join(setups, setups.c.id == pull_files.c.setup)
        .where(pull_files.c.removed.is_(None))
    )


def read_pull_files(connection: Connection, job: int) -> list[PullFile]:
    """The pulls of a job in their order."""
    query = _query().where(pull_files.c.job == job).order_by(pull_files.c.number, pull_files.c.id)
    return [PullFile(**row) for row in connection.execute(query).mappings()]


def _one(connection: Connection, id: int) -> PullFile:
    row = connection.execute(_query().where(pull_files.c.id == id)).mappings().one_or_none()
    if row is None:
        raise NotKeptError(f"there is no pull {id}", hint="it may have been removed from its job")
    return PullFile(**row)


def insert_pull_file(
    connection: Connection, job: int, setup: str, file_name: str, raw: bytes, recipe: dict[str, Any],
    settings: dict[str, Any], made: datetime | None = None,
) -> int:  # fmt: skip
    """A pull at the end of a job; its number in the store."""
    name = clean_file_name(file_name)
    settings = _checked(settings, name)
    in_file = settings.get("number", 0)
    _refuse_twice(connection, job, fingerprint(raw), in_file)
    last = connection.execute(
        select(func.max(pull_files.c.number)).where((pull_files.c.job == job) & pull_files.c.removed.is_(None))
    ).scalar()
    return insert(
        connection,
        pull_files,
        job=job,
        number=(last or 0) + 1,
        setup=setup_id(connection, job, setup),
        file_name=name,
        sha256=keep_raw(connection, raw, name),
        in_file=in_file,
        recipe=recipe,
        settings=settings,
        made=made or now(),
    )


def _checked(settings: dict[str, Any], name: str) -> dict[str, Any]:
    """The settings without what was left empty; texts without blanks around them, as of jobs and setups."""
    bare = {key: value.strip() if isinstance(value, str) else value for key, value in settings.items()}
    kept = {key: value for key, value in bare.items() if value not in (None, "", {})}
    entry = {key: value for key, value in kept.items() if key != TIME}
    PULL_ENTRY.read({"file": name, "setup": "A", **entry}, Place(name))
    if {"file", "setup"} & set(kept):
        raise InputError("file and setup of a pull are no settings", where=name)
    return kept


def _refuse_twice(connection: Connection, job: int, sha256: str, in_file: int, other_than: int = 0) -> None:
    same = (pull_files.c.job == job) & (pull_files.c.sha256 == sha256) & (pull_files.c.in_file == in_file)
    rows = connection.execute(_query().where(same & (pull_files.c.id != other_than))).all()
    if rows:
        first = rows[0]
        raise InputError(
            f"the same file is in the job already, as pull {first.number} ('{first.file_name}', setup {first.setup})",
            hint="leave it out; for another pull of the same file, say which one by its number",
        )


def _move(connection: Connection, pull: PullFile, number: int) -> None:
    order = [each.id for each in read_pull_files(connection, pull.job) if each.id != pull.id]
    order.insert(max(0, number - 1), pull.id)
    _number_anew(connection, order)


def _number_anew(connection: Connection, ids: list[int]) -> None:
    for number, id in enumerate(ids, 1):
        connection.execute(update(pull_files).where(pull_files.c.id == id).values(number=number))
