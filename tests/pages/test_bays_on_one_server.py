"""Two bays on one PostgreSQL server: what one takes in, the other sees, and both screens start on it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from tests.pages.conftest import CHROMIUM, Visit
from tests.pages.drawn_curves import wait_for_full_curve
from tests.pages.screen_server import Server
from tests.unit.records.postgres_server import PostgresServer, why_not

from pulsewright.demo.copy_session import SESSION
from pulsewright.records.store import Store

PULLS = sorted((SESSION / "pulls").glob("*.csv"))


@pytest.fixture
def bays(tmp_path: Any, monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[Server, Server]]:
    if CHROMIUM is None or why_not():
        pytest.skip(why_not() or "no chromium on this machine")
    with PostgresServer() as postgres:
        made = []
        for name in ("one", "other"):
            for variable in ("XDG_DATA_HOME", "XDG_CACHE_HOME"):
                monkeypatch.setenv(variable, str(tmp_path / name))
            made.append(Server(postgres.address("postgres")))
        yield made[0], made[1]
        for server in made:
            server.stop()


def test_a_visit_in_two_bays(browser: Any, bays: tuple[Server, Server]):
    one, other = (Visit(browser, server, viewport={"width": 1280, "height": 900}) for server in bays)
    page = one.page
    page.goto("/new")
    page.set_input_files("#sheet", str(SESSION / "setup.toml"))
    page.fill("#machine-sheet", "Bay one")
    page.click("text=Make the job from this")
    page.wait_for_url("**/jobs/*")
    page.click("nav >> text=Bring in pulls")
    page.set_input_files("#files", [str(path) for path in PULLS[:3]])
    page.click("text=Read them")
    page.wait_for_selector(".taken .good")
    assert page.locator(".taken .good").count() == 3

    page = other.page
    page.goto("/")
    page.fill("[name=words]", "bay one")
    page.keyboard.press("Enter")
    page.click("text=Bay one")
    page.click("nav >> text=Bring in pulls")
    page.wait_for_selector(".plot .main-svg")
    assert "Hole" in page.inner_text("h1")
    page.click("nav >> text=Try a change")
    wait_for_full_curve(page)
    for each in (one, other):
        each.close()
    with Store.open(bays[0].place) as store:
        assert store.on_server
        assert store.check() == []
        (line,) = store.jobs()
        assert [store.raw(pull) for pull in store.pull_files(line.id)] == [path.read_bytes() for path in PULLS[:3]]
