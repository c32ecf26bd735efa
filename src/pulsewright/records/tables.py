"""The tables of the record store as they are now; `migrations` leads every older store to them."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import (
    JSON,
    Boolean,
    Column,
    Connection,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
    UniqueConstraint,
    text,
)


class Moment(TypeDecorator[datetime]):
    """A time in UTC, kept as ISO 8601 text of one width, so that it sorts and reads the same everywhere."""

    impl = String(32)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Any) -> str | None:
        return None if value is None else value.astimezone(UTC).isoformat(timespec="microseconds")

    def process_result_value(self, value: str | None, dialect: Any) -> datetime | None:
        return None if value is None else datetime.fromisoformat(value)


def insert(connection: Connection, table: Table, **values: Any) -> int:
    """A new row; its number."""
    return connection.execute(table.insert().values(**values).returning(table.c.id)).scalar_one()


def now() -> datetime:
    """The present moment, in UTC."""
    return datetime.now(UTC)


NAMES = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s",
    "pk": "pk_%(table_name)s",
}
metadata = MetaData(naming_convention=NAMES)


def _key() -> Column[int]:
    return Column("id", Integer, primary_key=True)


def _job() -> Column[int]:
    return Column("job", ForeignKey("jobs.id", ondelete="CASCADE"), nullable=False, index=True)


# sqlite_autoincrement below: the number of what was deleted is never given to something else.

jobs = Table(
    "jobs",
    metadata,
    _key(),
    Column("title", Text, nullable=False),
    Column("machine", Text, nullable=False),
    Column("complaint", Text, nullable=False),
    Column("settings", JSON, nullable=False),  # what else stands at the top of session.toml, as it is written there
    Column("copied_from", ForeignKey("jobs.id", ondelete="SET NULL")),
    Column("made", Moment, nullable=False),
    Column("changed", Moment, nullable=False),
    Column("binned", Moment),
    sqlite_autoincrement=True,
)
setups = Table(
    "setups",
    metadata,
    _key(),
    _job(),
    Column("number", Integer, nullable=False),  # order in the job, from 1
    Column("name", Text, nullable=False),
    Column("based_on", ForeignKey("setups.id")),  # empty: has a sheet of its own
    UniqueConstraint("job", "name"),
    sqlite_autoincrement=True,
)
# Every state that a setup was ever in; the last one counts. Rows are added, never changed.
setup_states = Table(
    "setup_states",
    metadata,
    _key(),
    Column("setup", ForeignKey("setups.id", ondelete="CASCADE"), nullable=False),
    Column("version", Integer, nullable=False),
    Column("sheet_name", Text),
    Column("sheet_text", Text),
    Column("changes", JSON, nullable=False),  # [[dotted path, new value], ...]
    Column("note", Text, nullable=False),
    Column("made", Moment, nullable=False),
    UniqueConstraint("setup", "version"),
    sqlite_autoincrement=True,
)
raw_files = Table(
    "raw_files",
    metadata,
    Column("sha256", String(64), primary_key=True),
    Column("size", Integer, nullable=False),
    Column("data", LargeBinary, nullable=False),
)
pull_files = Table(
    "pull_files",
    metadata,
    _key(),
    _job(),
    Column("number", Integer, nullable=False),  # order in the session, from 1
    Column("setup", ForeignKey("setups.id"), nullable=False, index=True),
    Column("file_name", Text, nullable=False),
    Column("sha256", ForeignKey("raw_files.sha256"), nullable=False),
    Column("in_file", Integer, nullable=False),  # which pull of a file that holds several, from 1; 0: not said
    Column("recipe", JSON, nullable=False),
    Column("settings", JSON, nullable=False),
    Column("made", Moment, nullable=False),
    Column("removed", Moment),
    Index(
        "uq_pull_files_once",
        "job",
        "sha256",
        "in_file",
        unique=True,
        sqlite_where=text("removed IS NULL"),
        postgresql_where=text("removed IS NULL"),
    ),
    sqlite_autoincrement=True,
)
# What session.toml names beside pulls and sheets: mapping, coast-down, limits.
side_files = Table(
    "side_files",
    metadata,
    Column("job", ForeignKey("jobs.id", ondelete="CASCADE"), primary_key=True),
    Column("name", Text, primary_key=True),
    Column("sha256", ForeignKey("raw_files.sha256"), nullable=False),
)
mappings = Table(
    "mappings",
    metadata,
    Column("name", Text, primary_key=True),
    Column("text", Text, nullable=False),
    Column("made", Moment, nullable=False),
)
answers = Table(
    "answers",
    metadata,
    _key(),
    _job(),
    Column("kind", String(32), nullable=False),
    Column("data", JSON, nullable=False),
    Column("code", String(100), nullable=False),
    Column("sheet_hash", String(64), nullable=False),
    Column("data_hash", String(64), nullable=False),
    Column("seed", Integer),
    Column("made", Moment, nullable=False),
    sqlite_autoincrement=True,
)
works = Table(
    "works",
    metadata,
    _key(),
    _job(),
    Column("kind", String(32), nullable=False),
    Column("arguments", JSON, nullable=False),
    Column("state", String(16), nullable=False, index=True),
    Column("progress", Float, nullable=False),
    Column("words", Text, nullable=False),
    Column("stop_asked", Boolean, nullable=False),
    Column("owner", Text),
    Column("tries", Integer, nullable=False),
    Column("made", Moment, nullable=False),
    Column("seen", Moment),  # when the owner last said that it lives
    Column("ended", Moment),
    sqlite_autoincrement=True,
)
