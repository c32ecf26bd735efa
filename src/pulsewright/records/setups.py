"""Setups of a job as a history: every state of every sheet stays, and the last one counts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, func, select

from pulsewright.bench.changes import changed_text
from pulsewright.bench.sheet import setup_from_text
from pulsewright.errors import InputError, UsageError, did_you_mean
from pulsewright.records.database import Database, NotKeptError
from pulsewright.records.job_rows import lock_job, read_job, touch
from pulsewright.records.tables import insert, now, setup_states, setups
from pulsewright.records.texts import NAME, NOTE, SHEET, clean, clean_file_name

FIRST_SETUP = "A"
Changes = Mapping[str, Any] | Iterable[tuple[str, Any]]


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupRow:
    """One state of one setup: `changes` against its own `sheet_text`, or against the setup that it is `based_on`."""

    id: int  # of the state
    job: int
    number: int  # order of the setup in the job, from 1
    name: str
    version: int  # of the setup, from 1
    based_on: str | None  # name of a setup
    sheet_name: str | None
    sheet_text: str | None  # TOML
    changes: tuple[tuple[str, Any], ...]  # (dotted path, new value)
    note: str
    made: datetime


class Setups(Database):
    """What can be done with the setups of a job."""

    def setups(self, job: int) -> list[SetupRow]:
        """All setups as they now are, in order."""
        with self.reading() as connection:
            return current_setups(connection, job)

    def setup_history(self, job: int, name: str | None = None) -> list[SetupRow]:
        """Every state that the setups, or one of them, were in; the oldest first."""
        with self.reading() as connection:
            return [row for row in all_states(connection, job) if name in (None, row.name)]

    def setup_text(self, job: int, name: str) -> str:
        """TOML of the whole sheet of a setup, with all its changes made."""
        with self.reading() as connection:
            rows = {row.name: row for row in current_setups(connection, job)}
        return text_of(_the_one(rows, name), rows)

    def add_setup(
        self, job: int, name: str, changes: Changes, note: str = "", *, based_on: str | None = None
    ) -> SetupRow:
        """A new state of the machine: `based_on` (the newest setup where it is not said) with changes.

        Raises InputError where a path is not known, a value cannot be, or the name is taken.
        """
        with self.writing() as connection:
            lock_job(connection, job)
            rows = {row.name: row for row in current_setups(connection, job)}
            base = _the_one(rows, based_on) if based_on is not None else list(rows.values())[-1]
            insert_setup(connection, job, name, changes=changes, note=note, based_on=base.name)
            touch(connection, job)
            return current_setups(connection, job)[-1]

    def correct_setup(
        self, job: int, name: str, *, sheet_text: str | None = None, changes: Changes | None = None,
        note: str | None = None,
    ) -> SetupRow:  # fmt: skip
        """Say anew what a setup is: a new state, the old ones stay. None leaves what it was.

        changes : all of them, not only the new ones. Only a setup that is not based on another takes a `sheet_text`.

        Raises InputError where this setup, or one that builds on it, could no longer be read.
        """
        with self.writing() as connection:
            lock_job(connection, job)
            before = _the_one({row.name: row for row in current_setups(connection, job)}, name)
            if sheet_text is not None and before.based_on:
                raise UsageError(f"setup '{name}' has no sheet of its own", hint="give its changes")
            insert_state(
                connection, setup_id(connection, job, name), before.version + 1, before.sheet_name,
                before.sheet_text if sheet_text is None else sheet_text,
                before.changes if changes is None else changes,
                before.note if note is None else note,
            )  # fmt: skip
            check_all(connection, job)
            touch(connection, job)
            return next(row for row in current_setups(connection, job) if row.name == name)


def all_states(connection: Connection, job: int) -> list[SetupRow]:
    """Every state of every setup of a job, the oldest first. Raises NotKeptError where there is no such job."""
    base = setups.alias("base")
    query = (
        select(
            setup_states.c.id, setups.c.job, setups.c.number, setups.c.name, setup_states.c.version,
            base.c.name.label("based_on"), setup_states.c.sheet_name, setup_states.c.sheet_text,
            setup_states.c.changes, setup_states.c.note, setup_states.c.made,
        )
        .join(setups, setups.c.id == setup_states.c.setup)
        .outerjoin(base, base.c.id == setups.c.based_on)
        .where(setups.c.job == job)
        .order_by(setup_states.c.made, setup_states.c.id)
    )  # fmt: skip
    found = [
        SetupRow(**{**row, "changes": tuple((path, value) for path, value in row["changes"])})
        for row in connection.execute(query).mappings()
    ]
    if not found:
        read_job(connection, job)  # for its error
    return found


def current_setups(connection: Connection, job: int) -> list[SetupRow]:
    """The last state of every setup of a job, in order."""
    last = {row.number: row for row in sorted(all_states(connection, job), key=lambda row: row.version)}
    return [last[number] for number in sorted(last)]


def _the_one(rows: Mapping[str, SetupRow], name: str) -> SetupRow:
    if name not in rows:
        raise NotKeptError(f"the job has no setup '{name}'", hint=did_you_mean(name, rows))
    return rows[name]


def text_of(row: SetupRow, rows: Mapping[str, SetupRow]) -> str:
    """The whole sheet of a setup, its changes and those of what it is based on made."""
    below = row.sheet_text or "" if row.based_on is None else text_of(rows[row.based_on], rows)
    return changed_text(below, row.changes, where=f"setup '{row.name}'") if row.changes else below


def insert_setup(
    connection: Connection, job: int, name: str, *, sheet_text: str | None = None, sheet_name: str | None = None,
    changes: Changes = (), note: str = "", based_on: str | None = None,
) -> None:  # fmt: skip
    """A new setup with its first state, checked by reading its whole sheet."""
    name = clean(name, "name of the setup", NAME, needed=True)
    number = connection.execute(select(func.max(setups.c.number)).where(setups.c.job == job)).scalar() or 0
    id = insert_setup_row(connection, job, name, number + 1, based_on)
    insert_state(connection, id, 1, sheet_name, sheet_text, changes, note)
    rows = {row.name: row for row in current_setups(connection, job)}
    _check(rows[name], rows)


def insert_setup_row(connection: Connection, job: int, name: str, number: int, based_on: str | None) -> int:
    """A setup that has no state yet; its number in the store. What it is based on must be there."""
    name = clean(name, "name of the setup", NAME, needed=True)
    taken = {row.name: row.id for row in connection.execute(select(setups).where(setups.c.job == job))}
    if name in taken:
        raise InputError(f"the job has a setup '{name}' already", hint="take another name, or correct that one")
    base = None if based_on is None else setup_id(connection, job, based_on)
    return insert(connection, setups, job=job, number=number, name=name, based_on=base)


def insert_state(
    connection: Connection, setup: int, version: int, sheet_name: str | None, sheet_text: str | None,
    changes: Changes, note: str, made: datetime | None = None,
) -> None:  # fmt: skip
    """A further state of a setup, not yet checked by reading it."""
    pairs = list(changes.items()) if isinstance(changes, Mapping) else list(changes)
    insert(
        connection,
        setup_states,
        setup=setup,
        version=version,
        sheet_name=None if sheet_name is None else clean_file_name(sheet_name),
        sheet_text=None if sheet_text is None else _clean_sheet(sheet_text),
        changes=[[path, value] for path, value in pairs],
        note=clean(note, "note", NOTE),
        made=made or now(),
    )


def _clean_sheet(text: str) -> str:
    clean(text, "sheet", SHEET, needed=True)
    return text  # blanks and line ends as the person wrote them


def _check(row: SetupRow, rows: Mapping[str, SetupRow]) -> None:
    """Raise InputError where a setup cannot be read."""
    own = row.based_on is None
    where = row.sheet_name or "the sheet" if own else f"setup '{row.name}'"
    setup_from_text(text_of(row, rows), where, name=row.name, lines=own)


def check_all(connection: Connection, job: int) -> None:
    """Raise InputError where a setup of a job cannot be read."""
    rows = {row.name: row for row in current_setups(connection, job)}
    for row in rows.values():
        _check(row, rows)


def copy_setups(connection: Connection, source: int, target: int) -> None:
    """The setups of one job as they now are, as the first states of another's."""
    fields = ("sheet_name", "sheet_text", "changes", "note")
    rows = current_setups(connection, source)
    insert_setups(
        connection, target, [(row.name, row.based_on, [{f: getattr(row, f) for f in fields}]) for row in rows]
    )


def insert_setups(connection: Connection, job: int, told: list[tuple[str, str | None, list[dict[str, Any]]]]) -> None:
    """Setups for a job that has none, in their order, each with its name, what it is based on, and its states.

    A state is given by `sheet_name`, `sheet_text`, `changes`, `note` and, where it is older than now, `made`.

    Raises InputError where they are based on each other in a ring, or one cannot be read.
    """
    waiting = {name: (number, based_on, states) for number, (name, based_on, states) in enumerate(told, 1)}
    if len(waiting) != len(told):
        raise InputError("two setups have the same name", hint="give each setup a name of its own")
    while waiting:
        name = next((each for each, (_, based_on, _) in waiting.items() if based_on not in waiting), None)
        if name is None:
            raise InputError("setups are based on each other in a ring", hint="let one of them have a sheet")
        number, based_on, states = waiting.pop(name)
        id = insert_setup_row(connection, job, name, number, based_on and based_on.strip())
        for version, state in enumerate(states, 1):
            insert_state(connection, id, version, **state)
    check_all(connection, job)


def setup_id(connection: Connection, job: int, name: str) -> int:
    """The number of a setup by its name. Raises NotKeptError where there is none."""
    rows = {row.name: row.id for row in connection.execute(select(setups).where(setups.c.job == job))}
    if name not in rows:
        raise NotKeptError(f"job {job} has no setup '{name}'", hint=did_you_mean(name, rows))
    return rows[name]
