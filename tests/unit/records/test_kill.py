"""A writer killed at any moment, and several writers at once."""

import json
import multiprocessing
import random
import time
from collections.abc import Iterator
from multiprocessing import forkserver
from pathlib import Path
from typing import Any

import pytest
from tests.unit.records import busy_writer

from pulsewright.bench.session import read_session
from pulsewright.records.store import Store

MEAN = 0.3  # [s] from the first sign of life to the kill

context = multiprocessing.get_context("forkserver")
context.set_forkserver_preload(["tests.unit.records.warm_writer"])


@pytest.fixture(scope="module", autouse=True)
def server_of_processes(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Started where it finds the tests, which Python 3.11 does not tell it: so that it has imported all beforehand."""
    with pytest.MonkeyPatch.context() as here:
        here.setenv("PYTHONPATH", str(Path(__file__).parents[3]))
        here.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))
        forkserver.ensure_running()
        yield


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "files").mkdir()
    return tmp_path / "files"


def started(place: Path | str, notes: Path, seed: int, sheet: str, folder: Path, most: int = 10**9):
    arguments = (place, notes, seed, sheet, folder, most)
    process = context.Process(target=busy_writer.write_until_killed, args=arguments, daemon=True)
    process.start()
    return process


def noted(notes: Path) -> list[list[Any]]:
    return [json.loads(line) for line in notes.read_text(encoding="utf-8").splitlines()] if notes.exists() else []


def wait_for(notes: Path, kind: str, process: Any) -> None:
    end = time.monotonic() + 60.0
    while not any(row[0] == kind for row in noted(notes)):
        assert process.is_alive(), "the writer ended by itself"
        assert time.monotonic() < end
        time.sleep(0.002)


def kill_and_look(place: Path | str, sheet: str, folder: Path, rounds: int, seed: int) -> dict[str, int]:
    """How many things of each kind were confirmed, and held, over all rounds."""
    random_ = random.Random(seed)
    counts: dict[str, int] = {}
    seen: set[Path] = set()  # folders that were laid out, and looked into
    for number in range(rounds):
        notes = folder / f"notes-{number}"
        process = started(place, notes, seed * 1000 + number, sheet, folder)
        wait_for(notes, "opened" if number and random_.random() < 0.9 else "began", process)
        time.sleep(random_.expovariate(1 / MEAN))
        assert process.is_alive(), "the writer ended by itself"
        process.kill()
        process.join()
        rows = noted(notes)
        look(place, rows, folder, seen)
        for row in rows:
            counts[row[0]] = counts.get(row[0], 0) + 1
    return counts


def look(place: Path | str, rows: list[list[Any]], folder: Path, seen: set[Path]) -> None:
    """Everything that was confirmed is there, nothing is half there, the store is whole."""
    with Store.open(place) as store:
        assert store.check() == []
        machines = {row[1]: row[2] for row in rows if row[0] == "machine"}
        for kind, *values in rows:
            LOOKS.get(kind, lambda *_: None)(store, folder, *values)
        for job, machine in machines.items():  # the last that was confirmed, or one that was written but not noted
            assert store.job(job).machine.split("-")[0] == machine.split("-")[0]
            assert int(store.job(job).machine.split("-")[1]) >= int(machine.split("-")[1])
        for job in {row[1] for row in rows if row[0] in ("setup", "pull")}:
            session = read_session(store.lay_out(job))
            assert len(session.pulls) == len(store.pull_files(job))
        laid = set(store.cache.glob("*/job-*"))
        for path in laid - seen:
            read_session(path)
        seen |= laid
        left = store.resume_left_over()
        assert all(work.state in ("waiting", "failed") for work in left)
        assert store.works(None, "running") == []
        for work in store.works(None, "waiting"):
            store.ask_to_stop(work.id)


def has_setup(store: Store, _: Path, job: int, id: int, name: str, changes: list) -> None:
    (row,) = store.setup_history(job, name)
    assert (row.id, [list(change) for change in row.changes]) == (id, changes)


def has_pull(store: Store, _: Path, job: int, id: int, sha256: str) -> None:
    pull = store.pull_file(id)
    assert (pull.job, pull.sha256) == (job, sha256)
    store.raw(pull)


def has_answer(store: Store, _: Path, job: int, id: int, name: str) -> None:
    answer = store.answer(id)
    assert (answer.job, answer.data["name"]) == (job, name)


def has_file(store: Store, folder: Path, name: str) -> None:
    with Store.open(folder / "import") as other:
        other.import_job(folder / name)
    (folder / name).unlink()


def is_titled(store: Store, _: Path, job: int, title: str) -> None:
    assert store.job(job).title == title


def is_done(store: Store, _: Path, work: int) -> None:
    assert store.work(work).state == "done"


LOOKS = {
    "job": is_titled, "setup": has_setup, "pull": has_pull, "answer": has_answer, "file": has_file, "done": is_done,
    "work": lambda store, _, id: store.work(id),
}  # fmt: skip


def test_nothing_that_was_confirmed_is_lost_to_a_kill(place: Path | str, sheet: str, folder: Path):
    counts = kill_and_look(place, sheet, folder, rounds=6, seed=1)
    assert counts["began"] == 6
    assert sum(counts.values()) > 12


@pytest.mark.slow
@pytest.mark.parametrize("place", ["sqlite"], indirect=True)
def test_nothing_is_lost_to_two_hundred_kills(place: Path, sheet: str, folder: Path):
    counts = kill_and_look(place, sheet, folder, rounds=200, seed=2)
    print(counts)
    assert counts["began"] == 200
    assert min(counts[kind] for kind in ("job", "machine", "setup", "pull", "answer", "done", "file")) > 20


@pytest.mark.slow
@pytest.mark.parametrize("place", ["postgresql"], indirect=True)
def test_nothing_is_lost_to_fifty_kills_on_a_server(place: str, sheet: str, folder: Path):
    counts = kill_and_look(place, sheet, folder, rounds=50, seed=3)
    print(counts)
    assert min(counts[kind] for kind in ("job", "setup", "pull", "answer", "file")) > 0


@pytest.fixture
def several(place: Path | str, sheet: str, folder: Path) -> list[list[Any]]:
    """What three writers noted who began on an empty place at once and wrote ten times each."""
    notes = [folder / f"notes-{n}" for n in range(3)]
    processes = [started(place, path, n, sheet, folder, most=10) for n, path in enumerate(notes)]
    for process in processes:
        process.join(120)
    assert [process.exitcode for process in processes] == [0, 0, 0]
    return [row for path in notes for row in noted(path)]


def test_several_writers_lose_nothing_of_each_other(place: Path | str, folder: Path, several: list[list[Any]]):
    assert len(several) >= 3 * 2 + 20
    with Store.open(place) as store:
        assert store.check() == []
        for kind, *values in several:
            LOOKS.get(kind, lambda *_: None)(store, folder, *values)
        for line in store.jobs():
            numbers = [pull.number for pull in store.pull_files(line.id)]
            assert numbers == list(range(1, len(numbers) + 1))
            setups = [setup.number for setup in store.setups(line.id)]
            assert setups == list(range(1, len(setups) + 1))
        assert store.works(None, "running", "waiting", "failed") == []
