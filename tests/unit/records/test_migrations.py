"""From every older form of a store to the present one."""

import shutil
import sqlite3
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, inspect, text

from pulsewright.errors import InputError
from pulsewright.records.database import FILE_NAME, Database, connect
from pulsewright.records.migrate import HEAD, SCRIPTS, VERSION_TABLE, migrate, revision_of
from pulsewright.records.store import Store
from pulsewright.records.tables import metadata

HASH = "6b86b273ff34fce19d6b804eff5a3f5747ada4eaa22f1d49c01e52ddb7875b4b"  # sha256 of "1", `printf 1 | sha256sum`
OLD_ROWS = [
    "INSERT INTO jobs (id, title, machine, complaint, settings, made, changed) VALUES "
    "(3, 'Old twin', 'narrow', 'flat at 3000', '{}', '2026-01-01T00:00:00.000000+00:00', "
    "'2026-01-02T00:00:00.000000+00:00')",
    "INSERT INTO setups (id, job, number, name) VALUES (5, 3, 1, 'A')",
    "INSERT INTO setup_states (id, setup, version, sheet_name, sheet_text, changes, note, made) VALUES "
    "(7, 5, 1, 'setup.toml', :sheet, '[]', 'bolt moved', '2026-01-01T00:00:00.000000+00:00')",
    f"INSERT INTO raw_files (sha256, size, data) VALUES ('{HASH}', 1, :data)",
    "INSERT INTO pull_files (id, job, number, setup, file_name, sha256, in_file, recipe, settings, made) VALUES "
    f"(9, 3, 1, 5, 'a.csv', '{HASH}', 0, '{{}}', '{{\"note\": \"clutch\"}}', '2026-01-01T00:00:00.000000+00:00')",
]


def opened(place: Path | str) -> Database:
    return Database(*connect(place))


def with_old_rows(place: Path | str, sheet: str) -> None:
    """A store in its first form, with a job in it."""
    database = opened(place)
    with database.writing() as connection:
        migrate(connection, database.place, to="0001")
        for row in OLD_ROWS:
            connection.execute(text(row), {"sheet": sheet, "data": b"1"} if ":" in row else {})
    database.close()


def test_the_newest_step_is_the_one_that_opening_leads_to():
    config = Config()
    config.set_main_option("script_location", str(SCRIPTS))
    config.set_main_option("path_separator", "os")
    assert ScriptDirectory.from_config(config).get_heads() == [HEAD]


def test_the_steps_lead_to_the_tables_that_the_code_works_with(place: Path | str):
    database = opened(place)
    with database.writing() as connection:
        assert revision_of(connection) is None
        migrate(connection, database.place)
        assert revision_of(connection) == HEAD
        assert differences(connection) == []
    database.close()


def differences(connection: Connection) -> list:
    def ours(thing, name, kind, reflected, compared) -> bool:
        return not (kind == "table" and (name.startswith("job_words") or name == VERSION_TABLE))

    options = {"include_object": ours, "compare_type": True}
    return compare_metadata(MigrationContext.configure(connection, opts=options), metadata)


def test_a_table_that_the_steps_forgot_would_be_seen(place: Path | str):
    database = opened(place)
    with database.writing() as connection:
        migrate(connection, database.place)
        connection.execute(text("ALTER TABLE works DROP COLUMN words"))
        assert len(differences(connection)) == 1
    database.close()


def test_what_an_older_store_holds_is_still_there_and_can_be_found(place: Path | str, sheet: str):
    with_old_rows(place, sheet)
    with Store.open(place) as store:
        job = store.job(3)
        assert (job.title, job.complaint, job.made.year) == ("Old twin", "flat at 3000", 2026)
        assert store.setups(3)[0].sheet_text == sheet
        assert store.raw(store.pull_files(3)[0]) == b"1"
        for words in ("old", "narrow", "3000", "bolt", "clutch"):
            assert [line.id for line in store.jobs(words)] == [3], words
        if store.on_server:  # rows were put in by number, past the server's own counting
            with store.writing() as connection:
                for table in ("jobs", "setups", "setup_states", "pull_files"):
                    connection.execute(text(f"SELECT setval('{table}_id_seq', 100)"))
        assert store.copy_job(3, "copy").id > 3
        assert store.check() == []


def test_a_step_that_fails_leaves_the_older_form(place: Path | str, sheet: str, monkeypatch: pytest.MonkeyPatch):
    with_old_rows(place, sheet)

    def fails(*_: object) -> None:
        raise ZeroDivisionError

    database = opened(place)
    with monkeypatch.context() as broken:
        broken.setattr("pulsewright.records.words.index_job", fails)
        with pytest.raises(ZeroDivisionError), database.writing() as connection:
            migrate(connection, database.place)
    with database.reading() as connection:
        assert revision_of(connection) == "0001"
        assert not inspect(connection).has_table("job_words")
    database.close()
    with Store.open(place) as store:
        assert store.check() == []


def test_a_newer_store_is_refused_and_left_alone(place: Path | str):
    with Store.open(place) as store, store.writing() as connection:
        connection.execute(text(f"UPDATE {VERSION_TABLE} SET version_num = '0999'"))
    with pytest.raises(InputError, match="newer version"):
        Store.open(place)
    database = opened(place)
    with database.reading() as connection:
        assert revision_of(connection) == "0999"
    database.close()


def test_a_form_is_named_as_a_path_with_odd_signs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """A percent sign in the place of the package would be read as a variable."""
    odd = tmp_path / "100% sure %(here)s"
    shutil.copytree(SCRIPTS, odd)
    monkeypatch.setattr("pulsewright.records.migrate.SCRIPTS", odd)
    with Store.open(tmp_path / "store") as store:
        assert store.check() == []


def test_an_opened_store_is_not_written_to(tmp_path: Path):
    Store.open(tmp_path).close()
    before = (tmp_path / FILE_NAME).read_bytes()
    Store.open(tmp_path).close()
    assert (tmp_path / FILE_NAME).read_bytes() == before
    with sqlite3.connect(tmp_path / FILE_NAME) as connection:
        assert connection.execute(f"SELECT version_num FROM {VERSION_TABLE}").fetchone() == (HEAD,)
