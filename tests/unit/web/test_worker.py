"""Long work: how it ends, and what happens to it when a person or the server stops it."""

import threading
import time

import pytest
from tests.unit.web.conftest import Screen

from pulsewright.errors import CancelledError, InputError
from pulsewright.web import worker
from pulsewright.web.long_work import KINDS


def run(screen: Screen, monkeypatch: pytest.MonkeyPatch, what, leave: threading.Event | None = None):
    """One piece of work that does `what`, to its end."""
    monkeypatch.setitem(KINDS, "explain", what)
    monkeypatch.setattr(worker, "SIGN_OF_LIFE", 0.02)
    job = screen.store.jobs()[0].id if screen.store.jobs() else screen.example()
    screen.store.queue_work(job, "explain")
    work = screen.store.claim()
    assert work is not None
    worker._run(screen.desk, work, leave or threading.Event())
    return screen.store.work(work.id)


def until_stopped(_desk, _work, progress):
    progress.tell(0.4, "half way")
    for _ in range(500):
        if progress.stopped():
            raise CancelledError
        time.sleep(0.01)


def test_work_that_is_done_is_done(screen: Screen, monkeypatch):
    found = run(screen, monkeypatch, lambda *_: None)
    assert (found.state, found.progress) == ("done", 1.0)


def test_an_error_is_told_with_what_to_try(screen: Screen, monkeypatch):
    def fail(*_):
        raise InputError("no pull is left", hint="bring one in")

    found = run(screen, monkeypatch, fail)
    assert found.state == "failed"
    assert found.words == "no pull is left. bring one in"


def test_a_defect_does_not_leave_it_running(screen: Screen, monkeypatch, capsys):
    found = run(screen, monkeypatch, lambda *_: 1 / 0)
    assert found.state == "failed"
    assert "ZeroDivisionError" in capsys.readouterr().err


def test_a_person_stops_it(screen: Screen, monkeypatch):
    def asked(desk, work, progress):
        desk.store.ask_to_stop(work.id)
        until_stopped(desk, work, progress)

    found = run(screen, monkeypatch, asked)
    assert found.state == "stopped"
    assert "goes on from there" in found.words


def test_how_far_it_is_can_be_seen_meanwhile(screen: Screen, monkeypatch):
    seen: list[tuple[float, str]] = []

    def look(desk, work, progress):
        progress.tell(0.4, "half way")
        for _ in range(200):
            state = desk.store.work(work.id)
            if state.words == "half way":
                seen.append((state.progress, state.words))
                return
            time.sleep(0.02)

    run(screen, monkeypatch, look)
    assert seen == [(0.4, "half way")]


def test_when_the_server_goes_it_waits_for_the_next_one(screen: Screen, monkeypatch):
    leave = threading.Event()
    leave.set()
    found = run(screen, monkeypatch, until_stopped, leave)
    assert found.state == "running"  # its owner is gone soon, and then `resume_left_over` lets it wait again
