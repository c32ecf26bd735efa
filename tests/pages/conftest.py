"""A server with a made-up day and its answers, and a browser that tells of every request and every complaint."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Protocol

import pytest
from tests.pages.screen_server import Server

from pulsewright.demo.copy_session import SESSION
from pulsewright.records.store import Store

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
ANSWERS = Path(__file__).parent / "answers.json"


def keep_answers(store: Store, job: int, answers: Path = ANSWERS) -> None:
    """Answers as our own code once gave them for the made-up day: regression values, and no check of physics."""
    for kind, data in json.loads(answers.read_text(encoding="utf-8")).items():
        store.keep_answer(job, kind, data)
    if answers == ANSWERS:
        store.keep_answer(job, "expected", made_up_forecast())


def made_up_forecast() -> dict[str, Any]:
    """A forecast for the plate of setup C: a tenth more torque than was measured before, ten per cent wide."""
    from pulsewright.bench.session import read_session
    from pulsewright.pulls.session_pulls import read_session_pulls
    from pulsewright.remedies.candidates import setup_hash
    from pulsewright.remedies.expected_pull import ExpectedPull
    from pulsewright.remedies.reference import reference_of

    session = read_session(SESSION)
    found = reference_of(session, read_session_pulls(session), "A")
    keep, plate, before = found.in_reach, session.setup("C"), session.setup("A")
    torque, mixture = 1.1 * found.torque[keep], found.mixture[keep]
    return ExpectedPull(
        code="made up", sheet=setup_hash(plate.setup), before_sheet=setup_hash(before.setup), data="made up", seed=1,
        session="narrow-twin", before_setup="A", do="plate across each pipe", changes=plate.changes,
        sheet_text=plate.text, band=(2200.0, 4600.0), fitted=False, rpm=found.rpm[keep], before=found.torque[keep],
        torque=torque, torque_low=0.9 * torque, torque_high=1.1 * torque, mixture_before=mixture, mixture=mixture,
        mixture_low=mixture - 0.1, mixture_high=mixture + 0.1, asked=found.rpm[keep][:1], causes=(),
    ).as_json()  # fmt: skip


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    if CHROMIUM is None:
        pytest.skip("no chromium on this machine")
    place = tmp_path_factory.mktemp("screen")
    with Store.open(place) as store:
        keep_answers(store, store.take_in(SESSION).id)
    made = Server(place)
    yield made
    made.stop()


@pytest.fixture(scope="session")
def browser(server: Server) -> Iterator[Any]:
    from playwright.sync_api import sync_playwright

    root = hasattr(os, "geteuid") and os.geteuid() == 0
    with sync_playwright() as play:
        made = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"] if root else [])
        yield made
        made.close()


class Named(Protocol):
    """A server by one of its addresses."""

    address: str


class Visit:
    """One browser of one person, who sees whether anything goes wrong."""

    def __init__(self, browser: Any, server: Named, **options: Any) -> None:
        self.server = server
        self.context = browser.new_context(base_url=server.address, **options)
        self.context.set_default_timeout(90_000)
        self.page = self.context.new_page()
        self.complaints: list[str] = []
        self.abroad: list[str] = []
        self.page.on("console", lambda m: self.complaints.append(m.text) if m.type == "error" else None)
        self.page.on("pageerror", lambda e: self.complaints.append(str(e)))
        self.page.on("request", lambda r: self._seen(r.url))

    def _seen(self, url: str) -> None:
        if not url.startswith((self.server.address + "/", "data:", "blob:")):
            self.abroad.append(url)

    def close(self) -> None:
        """Nothing was complained of, and no request left the machine."""
        self.context.close()
        assert not self.complaints
        assert not self.abroad


@pytest.fixture
def visit(browser: Any, server: Server) -> Iterator[Visit]:
    made = Visit(browser, server, viewport={"width": 1280, "height": 900})
    yield made
    made.close()
