"""Bring the tables of a store to the form that this version works with."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Connection, inspect, text

from pulsewright.errors import InputError

HEAD = "0002"  # the newest file in migrations/versions; a test holds the two together
VERSION_TABLE = "pulsewright_schema"
SCRIPTS = Path(__file__).parent / "migrations"
_LOCK = 7_207_215_919  # any number; PostgreSQL lets one migration hold it at a time


def revision_of(connection: Connection) -> str | None:
    """The form that a store is in; None for one without tables of ours."""
    if not inspect(connection).has_table(VERSION_TABLE):
        return None
    return connection.execute(text(f"SELECT version_num FROM {VERSION_TABLE}")).scalar()


def migrate(connection: Connection, place: str, to: str = HEAD) -> None:
    """Run the migrations that a store lacks, in the transaction of `connection`.

    Raises InputError where the store was made by a newer version, or where tables of something else are in the way.
    """
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _LOCK})
    before = revision_of(connection)
    if before == to:
        return
    if before is None and inspect(connection).has_table("jobs"):
        raise InputError(
            "the database holds tables of something else", where=place, hint="give the store a database of its own"
        )
    _upgrade(connection, place, before, to)


def expect_present_form(connection: Connection, place: str) -> None:
    """For a store that cannot be written. Raises InputError where it is not of the form that this version reads."""
    found = revision_of(connection)
    if found != HEAD:
        raise InputError(
            f"the store is read-only and of another form ({found or 'none'}; known here: {HEAD})",
            where=place,
            hint="copy it to where it can be written, and open the copy",
        )


def _upgrade(connection: Connection, place: str, before: str | None, to: str) -> None:
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", str(SCRIPTS).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    known = {script.revision for script in ScriptDirectory.from_config(config).walk_revisions()}
    if before is not None and before not in known:
        raise InputError(
            f"the store is of a newer version of pulsewright (form {before}; known here: up to {HEAD})",
            where=place,
            hint="use that version, or name another store with --store",
        )
    command.upgrade(config, to)
