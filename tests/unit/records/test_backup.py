import sqlite3
import threading
from pathlib import Path

import pytest
from sqlalchemy import text
from tests.unit.records.test_carry import content, full_job

from pulsewright.errors import InputError
from pulsewright.records import backup as backup_module
from pulsewright.records.database import FILE_NAME
from pulsewright.records.store import Store


def test_a_backup_is_a_store_with_all_that_was_kept(store: Store, tmp_path: Path):
    job = full_job(store)
    store.copy_job(job.id, "a copy")
    store.delete_job(store.copy_job(job.id, "in the bin").id)
    store.keep_mapping("bay 1", 'format = "pulsewright mapping 1"\n[columns]\nengine_speed = "n"\n')
    work = store.queue_work(job.id, "fit", {"draws": 32})
    folder = tmp_path / "put back"
    folder.mkdir()
    assert store.backup(folder / FILE_NAME) == folder / FILE_NAME
    assert [path.name for path in folder.iterdir()] == [FILE_NAME]
    with Store.open(folder) as again:
        assert again.check() == []
        assert content(again, job.id) == content(store, job.id)
        assert again.jobs("gauged") == store.jobs("gauged") != []
        assert again.jobs() == store.jobs()
        assert again.jobs(binned=True) == store.jobs(binned=True)
        assert again.mappings() == store.mappings()
        assert again.work(work.id) == work
        assert again.copy_job(job.id, "goes on").id > max(line.id for line in store.jobs(binned=True))


def test_a_file_that_is_there_is_not_replaced(store: Store, tmp_path: Path):
    (tmp_path / "kept").write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match="already"):
        store.backup(tmp_path / "kept")
    assert (tmp_path / "kept").read_text(encoding="utf-8") == "mine"
    assert not list(tmp_path.glob(".writing-*"))


def test_a_folder_gets_a_file_named_by_the_day(lite: Store, tmp_path: Path):
    folder = tmp_path / "backups"
    folder.mkdir()
    assert lite.backup(folder).match("pulsewright-20*.sqlite")


def test_a_place_that_cannot_be_written(store: Store, tmp_path: Path):
    with pytest.raises(InputError):
        store.backup(tmp_path / "nowhere" / "copy")


def test_a_copy_that_is_not_whole_is_no_backup(lite: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(backup_module, "quick_problems", lambda _: ["a page is gone"])
    with pytest.raises(InputError, match="not whole: a page is gone"):
        lite.backup(tmp_path / "copy")
    assert not (tmp_path / "copy").exists()


def test_a_backup_under_writes_is_one_state(store: Store, sheet: str, tmp_path: Path):
    """Every write adds a mapping and a file together; a copy must never hold one without the other."""
    stop, failed = threading.Event(), []

    def write() -> None:
        number = 0
        while not stop.is_set():
            number += 1
            try:
                with store.writing() as connection:
                    row = {"name": str(number), "data": b"x"}
                    connection.execute(text("INSERT INTO mappings VALUES (:name, 'x', '2026-01-01T00:00:00')"), row)
                    connection.execute(text("INSERT INTO raw_files VALUES (:name, 1, :data)"), row)
            except InputError as error:
                failed.append(error)

    writer = threading.Thread(target=write)
    writer.start()
    try:
        copies = [store.backup(tmp_path / f"copy {n}") for n in range(5)]
    finally:
        stop.set()
        writer.join()
    assert failed == []
    counts = []
    for copy in copies:
        with sqlite3.connect(copy) as connection:
            tables = ("mappings", "raw_files")
            counts.append([connection.execute(f"SELECT count(*) FROM {name}").fetchone()[0] for name in tables])
    assert all(first == second for first, second in counts)
    assert counts[-1][0] > counts[0][0]
