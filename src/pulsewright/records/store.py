"""The record store: everything that a workshop keeps, in one folder or one PostgreSQL database.

::

    with Store.open("records") as store:
        job = store.take_in("2nd-of-may")
        answer = store.newest(job.id, "explain")
"""

from __future__ import annotations

from pathlib import Path
from types import TracebackType

from pulsewright.errors import InputError
from pulsewright.records.answers import Answers
from pulsewright.records.backup import BackingUp
from pulsewright.records.carry import Carrying
from pulsewright.records.database import Database, connect
from pulsewright.records.health import problems, quick_problems
from pulsewright.records.jobs import Jobs
from pulsewright.records.laid_out import LayingOut
from pulsewright.records.mappings import Mappings
from pulsewright.records.migrate import expect_present_form, migrate
from pulsewright.records.pull_files import PullFiles
from pulsewright.records.setups import Setups
from pulsewright.records.side_files import SideFiles
from pulsewright.records.work import WorkList


class Store(Jobs, Setups, PullFiles, SideFiles, Mappings, Answers, WorkList, LayingOut, Carrying, BackingUp, Database):
    """Jobs, setups, pulls, answers and work. Safe for threads, and for several processes at once."""

    @classmethod
    def open(cls, place: Path | str) -> Store:
        """Open the store in a folder, or at the URL of a PostgreSQL database; a new one is made.

        An older store is brought to the present form, and its integrity is checked. One that is there and cannot be
        written is opened to be looked at (`read_only`).

        Raises
        ------
        InputError : the store is damaged, of a newer version, cannot be made or reached, or the disk is full.
        MissingToolError : the driver for PostgreSQL is not installed.
        """
        store = cls(*connect(place))
        try:
            if not store.read_only:
                with store.writing() as connection:
                    migrate(connection, store.place)
            with store.reading() as connection:
                if store.read_only:
                    expect_present_form(connection, store.place)
                found = quick_problems(connection)
        except BaseException:
            store.close()
            raise
        if found:
            store.close()
            raise InputError(
                f"the store is damaged: {found[0]}", where=store.place, hint="put a backup in its place; keep this one"
            )
        return store

    def check(self) -> list[str]:
        """Everything that is wrong with the store, one sentence each; empty where all is well. Reads all of it."""
        with self.reading() as connection:
            return problems(connection)

    def __enter__(self) -> Store:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None):
        self.close()
