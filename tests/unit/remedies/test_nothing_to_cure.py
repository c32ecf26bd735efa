"""A day without a hole: no change is searched, the machine as it stands is held against the gates all the same."""

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tests.pull_logs import Log, smooth_torque, with_dip, write_session

from pulsewright.bench.session import Session, read_session
from pulsewright.cause.causes import EXHAUST_WAVE, MEASUREMENT, NO_HOLE
from pulsewright.cause.safety import safety_notes
from pulsewright.cli.main import run
from pulsewright.pulls.session_pulls import SessionPulls, read_session_pulls
from pulsewright.remedies import explain as explaining
from pulsewright.remedies.advise import Advice, advise, needs_machine
from pulsewright.remedies.catalogue import general_catalogue
from pulsewright.remedies.explain import explain_session, healthy_by_pulls
from pulsewright.remedies.search import Search

RICHER = general_catalogue().test("richer").do
AS_ASKED = 'complaint = "only a check"'


def written(folder: Path, mixture: float, top: float | None = None) -> Path:
    """Four pulls of a healthy single; lambda `mixture` everywhere, `top` above 5200 rpm."""
    high = mixture if top is None else top

    def curve(rpm: np.ndarray) -> np.ndarray:
        return mixture + (high - mixture) / (1.0 + np.exp(-(rpm - 5200.0) / 60.0))

    logs = [Log(mixture=curve, noise=0.002, seed=k).columns() for k in range(4)]
    return write_session(folder, [("A", log) for log in logs], heads=[160.0] * 4, more=AS_ASKED)


def day(folder: Path, mixture: float, top: float | None = None) -> tuple[Session, SessionPulls]:
    session = read_session(written(folder, mixture, top))
    return session, read_session_pulls(session)


def advised(session: Session, pulls: SessionPulls, verdict: str = NO_HOLE) -> Advice:
    return advise(session, pulls, None, verdict, {verdict: 0.9}, general_catalogue())


@pytest.fixture(autouse=True)
def no_search(monkeypatch: pytest.MonkeyPatch):
    def run_it(*_: Any) -> None:
        raise AssertionError("changes were searched")

    monkeypatch.setattr(Search, "run", run_it)


def test_a_healthy_machine_is_left_as_it_is_with_its_leanest_reading(tmp_path: Path):
    advice = advised(*day(tmp_path / "day", 0.86))
    assert advice.text.startswith("Leave it as it is: no loss in the riding band")
    assert "no change was looked for" in advice.text
    assert "inside the lean gate of 0.92" in advice.text
    leanest = float(advice.text.partition("leanest lambda is ")[2].split()[0])
    assert leanest == pytest.approx(0.86, abs=0.02)
    found = advice.as_json()
    assert found["format"] == "pulsewright advice 1"
    assert (found["searched"], found["candidates"], found["expected_pull"]) == (False, [], None)


@pytest.mark.parametrize(("top", "where"), [(0.94, "past"), (0.91, "at")])
def test_past_the_lean_gate_that_is_told_before_leave_it(tmp_path: Path, top: float, where: str):
    """0.91 may be past it with what the sensor may be off."""
    advice = advised(*day(tmp_path / "day", 0.86, top=top))
    assert advice.text.startswith(f"It stands {where} the lean gate of 0.92: lambda 0.9")
    assert "Go no leaner" in advice.text
    assert advice.text.index("Go no leaner") < advice.text.index("leave it as it is")


@pytest.mark.parametrize("top", [0.99, 1.05])
def test_too_lean_as_it_stands_is_told_first_and_the_richer_step_is_next(tmp_path: Path, top: float):
    """0.99 is past the red gate with what the sensor may be off, and only then."""
    advice = advised(*day(tmp_path / "day", 0.86, top=top))
    assert advice.text.startswith("It runs too lean as it stands: lambda ")
    assert "No full-throttle pull before it is richer" in advice.text
    assert "eave it" not in advice.text
    assert advice.next[0].do == RICHER
    assert RICHER in advice.text


def test_a_short_stretch_past_the_red_gate_is_too_lean_as_well(tmp_path: Path):
    """Too short for 0.3 s of a pull; a rider may stay at that speed."""
    session, pulls = day(tmp_path / "day", 0.86)
    a = pulls.setups["A"]
    spike = replace(a, mixture=np.where(np.abs(a.rpm - 4325.0) < 40.0, 2.0, a.mixture))
    assert not safety_notes(session, replace(pulls, setups={**pulls.setups, "A": spike}))
    advice = advised(session, replace(pulls, setups={**pulls.setups, "A": spike}))
    assert advice.text.startswith("It runs too lean as it stands: lambda 1.")
    assert advice.next[0].do == RICHER


def test_without_lambda_it_is_said_that_nobody_knows(tmp_path: Path):
    session, pulls = day(tmp_path / "day", 0.86)
    a = pulls.setups["A"]
    none = replace(a, mixture=np.full(a.mixture.shape, np.nan), mixture_sd=np.full(a.mixture.shape, np.nan))
    advice = advised(session, replace(pulls, setups={**pulls.setups, "A": none}))
    assert "Whether its mixture is safe is not known: the pulls have no lambda" in advice.text
    half = replace(a, mixture=np.where(a.rpm > 5000.0, np.nan, a.mixture))
    advice = advised(session, replace(pulls, setups={**pulls.setups, "A": half}))
    assert "not known at every speed" in advice.text
    assert "inside the lean gate" not in advice.text


def test_which_verdicts_need_a_machine():
    assert needs_machine(EXHAUST_WAVE)
    assert not needs_machine(NO_HOLE)
    assert not needs_machine(MEASUREMENT)


def test_the_pulls_alone_say_what_the_explanation_with_a_model_says(tmp_path: Path):
    session, pulls = day(tmp_path / "day", 0.86)
    chances = healthy_by_pulls(session, pulls)
    assert chances is not None
    told = explain_session(session, fitted=False).explanation
    assert told.verdict == NO_HOLE
    assert chances == pytest.approx(told.chances)


def test_a_day_with_a_hole_or_another_cause_is_not_called_healthy(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(explaining, "probabilities", lambda _: {NO_HOLE: 0.2, "ignition": 0.8})
    assert healthy_by_pulls(*day(tmp_path / "day", 0.86)) is None
    monkeypatch.setattr(explaining, "probabilities", lambda _: {NO_HOLE: 0.9})
    torque = with_dip(smooth_torque, 3300.0, 0.12, 600.0)
    logs = [("A", Log(torque=torque, noise=0.002, seed=k).columns()) for k in range(4)]
    session = read_session(write_session(tmp_path / "hole", logs, more=AS_ASKED))
    pulls = read_session_pulls(session)
    assert pulls.hole is not None
    assert healthy_by_pulls(session, pulls) is None


@pytest.mark.parametrize(("top", "first"), [(0.86, "Leave it as it is"), (1.03, "It runs too lean as it stands")])
def test_the_command_answers_without_fit_and_search(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], top: float, first: str
):
    def no_fit(*_: Any, **__: Any) -> None:
        raise AssertionError("a model was fitted")

    monkeypatch.setattr(explaining, "explain_session", no_fit)
    if top > 0.9:  # so lean that the verdict would be another one: what is looked at here is the way to the words
        monkeypatch.setattr(explaining, "probabilities", lambda _: {NO_HOLE: 0.9})
    folder, to = written(tmp_path / "day", 0.86, top), tmp_path / "advice.json"
    assert run(["--store", str(tmp_path / "store"), "advise", str(folder), "-q", "--json", str(to)]) == 0
    said = capsys.readouterr().out
    assert said.startswith(first)
    assert "Verdict: no hole\n" in said
    found = json.loads(to.read_text(encoding="utf-8"))
    assert (found["verdict"], found["searched"], found["candidates"]) == (NO_HOLE, False, [])
    assert found["text"] in said
