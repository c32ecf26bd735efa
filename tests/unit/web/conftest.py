"""A screen over a fresh store, asked without a browser."""

import re
import warnings
from collections.abc import Iterator
from pathlib import Path

import pytest

from pulsewright.bench.session import Session
from pulsewright.demo.copy_session import SESSION
from pulsewright.pulls.session_pulls import SessionPulls, read_session_pulls
from pulsewright.records.store import Store
from pulsewright.web import desk
from pulsewright.web.app import create_app
from pulsewright.web.desk import Desk
from pulsewright.web.door import Door

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # that httpx will give way to another client
    from starlette.testclient import TestClient


class Screen:
    """One browser's view of a server."""

    def __init__(self, place: Path, *, lan: bool = False) -> None:
        self.store = Store.open(place)
        self.desk = Desk(self.store, place)
        self.door = Door(port=80, lan=lan)
        self.app = create_app(self.desk, self.door, worker=False)
        self.client = self.browser()

    def browser(self, address: str = "127.0.0.1") -> TestClient:
        """A fresh browser without cookies, on this machine or another."""
        return TestClient(
            self.app, base_url="http://127.0.0.1", client=(address, 50_000), raise_server_exceptions=False
        )

    @property
    def token(self) -> str:
        found = re.search('pulsewright-token" content="([^"]+)"', self.client.get("/look").text)
        assert found is not None
        return found.group(1)

    def post(self, path: str, data: dict | None = None, **more):
        return self.client.post(path, data={"token": self.token, **(data or {})}, **more)

    def example(self) -> int:
        """The invented day as a job."""
        return self.store.take_in(SESSION).id


@pytest.fixture(scope="session", autouse=True)
def pulls_are_read_once() -> Iterator[None]:
    """A folder of the same content holds the same pulls: it is read once for all tests."""
    read: dict[str, SessionPulls] = {}

    def once(session: Session) -> SessionPulls:
        name = session.folder.parent.name  # the digest of all that is in it
        if name not in read:
            read[name] = read_session_pulls(session)
        return read[name]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(desk, "read_session_pulls", once)
        yield


@pytest.fixture
def screen(tmp_path: Path) -> Iterator[Screen]:
    made = Screen(tmp_path / "store")
    yield made
    made.client.close()
    made.store.close()
