"""The model under a slider: the same numbers as a prediction, gates that follow, and questions that give way."""

import threading
from types import SimpleNamespace

import numpy as np
import pytest

from pulsewright.bench.session import read_session
from pulsewright.demo.copy_session import SESSION
from pulsewright.errors import CancelledError
from pulsewright.pulls.session_pulls import read_session_pulls
from pulsewright.remedies import live_model
from pulsewright.remedies.gates import KNOCK, LEAN
from pulsewright.remedies.live_model import DRAG, SHOW, LiveModel, nominal_machine
from pulsewright.remedies.reference import reference_of


@pytest.fixture(scope="module")
def day():
    session = read_session(SESSION)
    return session, read_session_pulls(session)


def point(rpm: float, torque: float, lambda_: float = 0.8, knock_margin: float = 0.7) -> SimpleNamespace:
    return SimpleNamespace(
        rpm=rpm, torque=torque, outcome="converged", trapped_by_cylinder=(lambda_, lambda_), lambda_trapped=lambda_,
        lambda_sensor={"1": lambda_}, knock_margin=knock_margin,
    )  # fmt: skip


def made(day, monkeypatch, answer) -> LiveModel:
    """A live model of setup A whose engine is a formula: answer(setup, rpm) -> point."""
    session, pulls = day

    def sweep(setup, speeds, _options, *, progress, **_more):
        points = []
        for n, rpm in enumerate(speeds):
            points.append(answer(setup, rpm))
            progress(n + 1, len(speeds), rpm)
        return points

    monkeypatch.setattr(live_model, "sweep", sweep)
    reference = reference_of(session, pulls, "A")
    reach = float(reference.rpm[0]), float(reference.rpm[reference.in_reach][-1])
    return LiveModel(before=session.setup("A").setup, machine=nominal_machine(), reference=reference, reach=reach)


def test_speeds_of_the_two_levels(day, monkeypatch):
    model = made(day, monkeypatch, lambda _s, rpm: point(rpm, 100.0))
    assert len(model.speeds(DRAG)) == 13
    assert len(model.speeds(SHOW)) == 25
    assert model.speeds(DRAG)[0] == round(model.reach[0])


def test_what_a_change_does_is_laid_on_what_was_measured(day, monkeypatch):
    """Ten per cent more torque in the model are ten per cent more in the riding band."""
    session, _ = day
    model = made(day, monkeypatch, lambda s, rpm: point(rpm, 110.0 if s is session.setup("B").setup else 100.0))
    curve = model.curve(session.setup("B").setup, DRAG)
    assert curve.torque == pytest.approx(np.full(13, 110.0))
    assert curve.forecast is not None
    assert curve.forecast.gain.value == pytest.approx(10.0)


def test_a_leaner_machine_meets_the_lean_gate(day, monkeypatch):
    session, _ = day
    richer = made(day, monkeypatch, lambda s, rpm: point(rpm, 100.0, 0.70 if s is session.setup("B").setup else 0.85))
    assert LEAN not in [r.gate for r in richer.curve(session.setup("B").setup, DRAG).refusals]
    leaner = made(day, monkeypatch, lambda s, rpm: point(rpm, 100.0, 0.95 if s is session.setup("B").setup else 0.85))
    assert LEAN in [r.gate for r in leaner.curve(session.setup("B").setup, DRAG).refusals]


def test_as_near_to_knock_as_another_setup_was_pulled_is_no_refusal(day, monkeypatch):
    session, _ = day
    a, b, c = (session.setup(name).setup for name in "ABC")
    model = made(day, monkeypatch, lambda s, rpm: point(rpm, 100.0, knock_margin=0.2 if s is a else 0.0))
    assert KNOCK in [r.gate for r in model.curve(b, DRAG).refusals]
    model.pulled = (c,)
    assert KNOCK not in [r.gate for r in model.curve(b, DRAG).refusals]


def test_other_machines_are_run_beside_the_path_of_the_slider(day, monkeypatch):
    """What a pulled machine came to rest at is no start for the next move of a dial."""
    session, _ = day
    b = session.setup("B").setup
    model = made(day, monkeypatch, lambda s, rpm: point(rpm, 100.0, knock_margin=0.0 if s is b else 0.2))
    model.pulled = (session.setup("C").setup,)
    led, sweep = [], live_model.sweep
    monkeypatch.setattr(live_model, "sweep", lambda s, *a, path, **k: led.append((s, path)) or sweep(s, *a, **k))
    model.curve(b, DRAG)
    paths = {id(setup): path for setup, path in led}
    assert paths[id(b)] is paths[id(model.before)] is not None
    assert paths[id(model.pulled[0])] is None


def test_without_pulls_no_gate_is_asked(day, monkeypatch):
    session, _ = day
    made(day, monkeypatch, lambda _s, rpm: point(rpm, 100.0))
    model = LiveModel(before=session.setup("A").setup, machine=nominal_machine())
    curve = model.curve(session.setup("A").setup, DRAG)
    assert curve.forecast is None
    assert curve.refusals == ()


def test_a_question_gives_way_to_the_next(day, monkeypatch):
    """While the full curve is computed the slider moves: the full one stops between two speeds."""
    session, _ = day
    setup, under_way, go_on = session.setup("A").setup, threading.Event(), threading.Event()
    asked = 0

    def answer(_setup, rpm):
        nonlocal asked
        asked += 1
        if asked == 13 + 5:
            under_way.set()
            go_on.wait(10)
        return point(rpm, 100.0)

    model = made(day, monkeypatch, answer)
    other_setup = session.setup("B").setup
    model.curve(setup, DRAG)
    ended: list[str] = []

    def full():
        try:
            model.curve(setup, SHOW)
        except CancelledError:
            ended.append("gave way")

    thread = threading.Thread(target=full)
    thread.start()
    assert under_way.wait(10)
    other = threading.Thread(target=lambda: ended.append(model.curve(other_setup, DRAG).level))
    other.start()
    while model._asked < 3:
        pass
    go_on.set()
    thread.join(10)
    other.join(10)
    assert ended == ["gave way", "drag"]


def test_an_echo_gives_way_to_the_next_move_and_to_nothing_else(day, monkeypatch):
    session, _ = day
    setup = session.setup("A").setup
    model = made(day, monkeypatch, lambda _s, rpm: point(rpm, 100.0))

    def compute_echo(*_, stopped, **__):
        assert not stopped()
        model.curve(setup, SHOW)
        assert not stopped()
        model.curve(setup, DRAG)
        assert stopped()
        raise KeyboardInterrupt

    monkeypatch.setattr(live_model, "compute_echo", compute_echo)
    with pytest.raises(CancelledError):
        model.echo(setup, 3000.0, 1, DRAG)
