"""Advice on the invented day and the pull that follows it, by the commands alone, on the day's hidden machine.

What is recommended, and how well it is forecast, is for the tests of `remedies` and `fit`. Here advice must be told,
and a pull that the hidden machine answered must be judged by what was written down before it.
"""

import json
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tests.session_maker import session_maker

from pulsewright.bench.session import read_session
from pulsewright.bench.sheet import setup_from_text
from pulsewright.cli.main import run
from pulsewright.pulls.session_pulls import read_session_pulls
from pulsewright.records.expected_pulls import write_expected
from pulsewright.remedies.candidates import setup_hash
from pulsewright.remedies.expected_pull import ExpectedPull
from pulsewright.remedies.hypotheses import Expected
from pulsewright.remedies.judgement import RIGHT, WRONG
from pulsewright.simulate.predict import predict

SPEEDS = np.arange(1600.0, 5801.0, 300.0).tolist()


@pytest.fixture(scope="module")
def day(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("advised")
    shutil.copytree(session_maker().SESSION, folder / "day")
    return folder


@pytest.fixture(scope="module")
def plates(day: Path) -> ExpectedPull:
    """A forecast for plates near the pipe ends, taken from pulls that were made with them."""
    session = read_session(day / "day")
    pulls, after = read_session_pulls(session), session.setup("C")
    a, c = pulls.setups["A"], pulls.setups["C"]
    rpm = np.arange(2000.0, 5001.0, 50.0)
    torque, before = np.interp(rpm, c.rpm, c.torque), np.interp(rpm, a.rpm, a.torque)
    asked, nothing = np.array([3000.0, 3500.0]), np.full(rpm.shape, np.nan)
    gain = np.log(np.interp(asked, rpm, torque / before))
    noise = 0.02**2 * np.eye(4)
    causes = (
        Expected(cause="exhaust wave", chance=0.5, mean=np.append(gain, np.zeros(2)), covariance=noise),
        Expected(cause="ignition", chance=0.5, mean=np.zeros(4), covariance=noise),
    )
    return ExpectedPull(
        code="1", sheet=setup_hash(after.setup), before_sheet=setup_hash(session.setup("A").setup), data="d", seed=1,
        session="day", before_setup="A", do="plates", changes=after.changes, sheet_text=after.text,
        band=(2200.0, 4600.0), fitted=True, rpm=rpm, before=before, torque=torque, torque_low=0.97 * torque,
        torque_high=1.03 * torque, mixture_before=nothing, mixture=nothing, mixture_low=nothing, mixture_high=nothing,
        asked=asked, causes=causes,
    )  # fmt: skip


def new_pull(day: Path, sheet: str, *, lost: float = 0.0) -> Path:
    """A pull with the machine of a sheet as the hidden machine answers, short of a share of its torque."""
    maker = session_maker()
    hidden = setup_from_text(maker.changed_text(sheet, maker.HIDDEN), "the hidden machine", lines=False)
    model = predict(hidden, SPEEDS, maker.HIDDEN_OPTIONS)
    drag = maker.EXTRA_DRAG[0] + maker.EXTRA_DRAG[1] * model.rpm / 1000.0
    torque = (model.torque_nm - drag) * (1.0 - lost)
    true = maker.Truth(rpm=model.rpm, torque=torque, mixture=model.lambda_sensor["1"])
    path = day / f"new-{lost:g}.csv"
    maker.write_bench_file(path, maker.measure(true, maker.conditions(10), hertz=50, seed=99), "new")
    return path


def judged(day: Path, pull: Path, store: str) -> dict[str, Any]:
    to = day / "judged.json"
    words = ["--store", str(day / store), "judge", str(day / "day"), "--pull", str(pull), "--no-fit"]
    assert run([*words, "--json", str(to)]) == 0
    (row,) = json.loads(to.read_text(encoding="utf-8"))["judged"]
    return row


def test_a_pull_that_comes_out_as_expected_is_right(day: Path, plates: ExpectedPull):
    write_expected(plates, day / "kept" / "expected")
    row = judged(day, new_pull(day, plates.sheet_text), "kept")
    assert row["word"] == RIGHT
    assert abs(row["torque"]["mean_off"]) < 2.0  # [%] gain of one pull to the next 0.5, noise 0.4
    assert row["odds"]["exhaust wave"] > 0.5


def test_a_pull_that_lacks_a_quarter_of_its_torque_is_wrong(day: Path, plates: ExpectedPull):
    write_expected(plates, day / "kept" / "expected")
    row = judged(day, new_pull(day, plates.sheet_text, lost=0.25), "kept")
    assert row["word"] == WRONG
    assert row["torque"]["mean_off"] == pytest.approx(-25.0, abs=2.5)
    assert row["torque"]["outside"][0]["side"] == "below"


def test_without_a_forecast_nothing_is_judged(day: Path, capsys: pytest.CaptureFixture[str]):
    words = ["--store", str(day / "empty"), "judge", str(day / "day"), "--setup", "C", "--no-fit"]
    assert run(words) == 4
    assert "advise" in capsys.readouterr().err


def advised(day: Path, candidates: int) -> dict[str, Any]:
    to = day / "advice.json"
    words = ["--store", str(day / "store"), "advise", str(day / "day"), "--no-fit", "-q"]
    assert run([*words, "--candidates", str(candidates), "--json", str(to)]) == 0
    return json.loads(to.read_text(encoding="utf-8"))


@pytest.mark.slow
def test_what_is_advised_is_pulled_and_judged(day: Path):
    """The whole round with a model that is not fitted: the first forecast, and the hidden machine's answer to it."""
    advice = advised(day, 120)
    assert advice["format"] == "pulsewright advice 1"
    assert advice["verdict"] == "exhaust wave"
    assert [c for c in advice["candidates"] if c["standing"] == "recommended"]
    (kept,) = (day / "store" / "expected").glob("*.json")
    assert Path(advice["expected_pull"]) == kept
    row = judged(day, new_pull(day, json.loads(kept.read_text(encoding="utf-8"))["sheet_text"]), "store")
    assert abs(row["torque"]["mean_off"]) < 15.0  # [%] the unfitted model's own error
