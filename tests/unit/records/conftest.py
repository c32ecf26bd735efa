"""Stores to test on: every test that asks for `store` runs on SQLite and on a real PostgreSQL server."""

import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[3]))

from tests.unit.records.postgres_server import PostgresServer, why_not

from pulsewright.demo.copy_session import SESSION
from pulsewright.records.jobs import Job
from pulsewright.records.store import Store


@pytest.fixture(scope="session")
def postgres() -> Iterator[PostgresServer]:
    """A server of its own on a socket in a temporary folder."""
    reason = why_not()
    if reason:
        pytest.skip(reason)
    with PostgresServer() as server:
        yield server


@pytest.fixture(params=["sqlite", "postgresql"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Path | str:
    """An empty place for a store."""
    if request.param == "sqlite":
        return tmp_path / "store"
    return request.getfixturevalue("postgres").new_database()


@pytest.fixture
def store(place: Path | str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Store]:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    with Store.open(place) as opened:
        yield opened


@pytest.fixture
def lite(tmp_path: Path) -> Iterator[Store]:
    """A store on SQLite, for what has nothing to do with the database."""
    with Store.open(tmp_path / "lite") as opened:
        yield opened


@pytest.fixture(scope="session")
def sheet() -> str:
    """Text of a setup sheet."""
    return (SESSION / "setup.toml").read_text(encoding="utf-8")


@pytest.fixture
def new_job(store: Store, sheet: str) -> Callable[..., Job]:
    """Makes a job with one setup."""

    def make(title: str = "twin", machine: str = "narrow twin", complaint: str = "goes flat") -> Job:
        return store.new_job(title, machine, complaint, sheet, "setup.toml")

    return make


@pytest.fixture
def job(new_job: Callable[..., Job]) -> Job:
    return new_job()
