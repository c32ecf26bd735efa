"""A forecast written down, and pulls held against it."""

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from pulsewright.errors import InputError
from pulsewright.pulls.setup_curves import SetupCurves
from pulsewright.records.expected_pulls import expected_of_sheet, latest_of_session, read_expected, write_expected
from pulsewright.remedies.expected_pull import ExpectedPull, from_json
from pulsewright.remedies.hypotheses import Expected
from pulsewright.remedies.judgement import RIGHT, WRONG, judge

RPM = np.arange(2000.0, 6001.0, 50.0)
ASKED = np.array([2500.0, 3000.0, 3500.0])
DIP = 0.15 * np.exp(-(((RPM - 3000.0) / 400.0) ** 2))
BEFORE = 100.0 * (1.0 - DIP)


def forecast(*, cured: float = 0.6, sheet: str = "abcdef123456") -> ExpectedPull:
    torque = 100.0 * (1.0 - (1.0 - cured) * DIP)
    gain = np.log(np.interp(ASKED, RPM, torque) / np.interp(ASKED, RPM, BEFORE))
    noise = 0.01**2 * np.eye(6)
    causes = (
        Expected(cause="exhaust wave", chance=0.6, mean=np.append(gain, np.zeros(3)), covariance=noise),
        Expected(cause="ignition", chance=0.4, mean=np.zeros(6), covariance=noise),
    )
    lean = np.full(RPM.shape, 0.85)
    return ExpectedPull(
        code="1", sheet=sheet, before_sheet="000000000000", data="d", seed=1, session="day", before_setup="A",
        do="plate", changes=(("carburettor.1.main_jet", "1.9 mm"),), sheet_text="x", band=(2200.0, 4200.0), fitted=True,
        rpm=RPM, before=BEFORE, torque=torque, torque_low=0.985 * torque, torque_high=1.015 * torque,
        mixture_before=lean, mixture=lean, mixture_low=lean - 0.02, mixture_high=lean + 0.02,
        asked=ASKED, causes=causes,
    )  # fmt: skip


def pulled(torque: np.ndarray, mixture: float = 0.85) -> SetupCurves:
    nothing = np.full(RPM.shape, np.nan)
    return SetupCurves(
        name="B", pulls=(4, 5), rpm=RPM, torques=torque[None], torque=torque, torque_sd=nothing, torque_trend=torque,
        mixture=np.full(RPM.shape, mixture), mixture_sd=nothing, lambdas={}, torque_at="engine", hole=None,
    )  # fmt: skip


def test_pulls_as_expected_speak_for_the_cause():
    expected = forecast()
    found = judge(expected, pulled(1.002 * expected.torque))
    assert found.word == RIGHT
    assert found.torque.inside == 1.0
    assert found.torque.mean_off == pytest.approx(0.2, abs=0.02)
    assert found.mixture is not None
    assert found.odds["exhaust wave"] > 1.0
    assert found.odds["exhaust wave"] == pytest.approx(-found.odds["ignition"])
    assert found.chances["exhaust wave"] > 0.95


def test_pulls_in_which_nothing_changed_speak_against_it():
    found = judge(forecast(), pulled(BEFORE))
    assert found.word == WRONG or found.torque.inside < 0.65
    assert found.odds["ignition"] > 1.0
    assert found.chances["exhaust wave"] < 0.2
    low, high, side = found.torque.outside[0]
    assert side == "below"
    assert low < 3000.0 < high


def test_pulls_without_lambda_are_judged_by_torque():
    expected = forecast()
    found = judge(expected, pulled(expected.torque, mixture=float("nan")))
    assert found.mixture is None
    assert found.odds["exhaust wave"] > 1.0


def test_too_few_speeds_are_told():
    short = pulled(np.where(RPM > 5000.0, 90.0, np.nan))
    with pytest.raises(InputError, match="too few speeds"):
        judge(forecast(), short)


def test_a_forecast_reads_back_and_is_never_overwritten(tmp_path: Path):
    first = write_expected(forecast(), tmp_path)
    before = first.read_bytes()
    assert write_expected(forecast(), tmp_path) == first
    other = write_expected(forecast(cured=0.3), tmp_path)
    assert other != first
    assert first.read_bytes() == before
    again = read_expected(first)
    assert again.as_json() == forecast().as_json()
    assert again.changes == forecast().changes
    assert [each.sheet for _, each in expected_of_sheet(tmp_path, "abcdef123456")] == ["abcdef123456"] * 2
    assert expected_of_sheet(tmp_path, "fffff") == []
    newest = latest_of_session(tmp_path, "day")
    assert newest is not None
    assert not list(tmp_path.glob(".writing*"))


@pytest.mark.parametrize("data", [{}, {"format": "pulsewright advice 1"}, {"format": "pulsewright expected pull 1"}])
def test_what_is_no_forecast_is_told(data: dict):
    with pytest.raises(InputError):
        from_json(data, "file")


def test_pulls_are_kept_apart_from_the_sheet(tmp_path: Path):
    """The hash of the data moves with a pull file, and not with anything else."""
    from pulsewright.remedies.expected_pull import data_hash

    file = tmp_path / "01.csv"
    file.write_text("a")
    session = SimpleNamespace(pulls=[SimpleNamespace(file=file)])
    one = data_hash(session)  # type: ignore[arg-type]
    file.write_text("b")
    assert data_hash(session) != one  # type: ignore[arg-type]
