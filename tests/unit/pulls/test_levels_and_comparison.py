"""Levels of whole pulls: order, drift, heat; difference of two setups."""

import numpy as np
import pytest
from tests.pull_logs import Log, day, smooth_torque, with_dip, write_session

from pulsewright.bench.session import read_session
from pulsewright.pulls.pull_levels import fit_levels, settled_temperature
from pulsewright.pulls.session_pulls import read_session_pulls

JETS = '[ ["carburettor.1.main_jet", "1.45 mm"] ]'


def _drift_bias(order: str, per_pull: float) -> float:
    """Apparent effect of B over A, plain means, under linear drift alone."""
    level = per_pull * np.arange(len(order))
    is_b = np.array([c == "B" for c in order])
    return float(level[is_b].mean() - level[~is_b].mean())


@pytest.mark.parametrize(("order", "bias"), [("AABB", -0.006), ("AAABBB", -0.009), ("ABAB", -0.003), ("ABBA", 0.0)])
def test_the_drift_model_shrinks_the_bias_of_a_bad_order(order, bias):
    """Biases of plain means under -0.3 % a pull are arithmetic; the model must not do worse than they."""
    assert _drift_bias(order, -0.003) == pytest.approx(bias, abs=1e-12)
    levels = fit_levels(-0.003 * np.arange(len(order)), list(order), np.full(len(order), np.nan))
    difference, sd = levels.difference("A", "B")
    assert abs(difference) <= abs(bias) + 1e-9
    assert abs(difference) < 2.0 * sd + 1e-9


def test_aba_order_takes_linear_drift_out():
    levels = fit_levels(-0.003 * np.arange(9), list("AAABBBAAA"), np.full(9, np.nan))
    assert levels.difference("A", "B")[0] == pytest.approx(0.0, abs=1e-9)


def test_heat_is_not_taken_for_a_change():
    head = np.array([160, 163, 165, 200, 202, 201, 204, 164], dtype=float) + 273.15
    level = -0.02 / 40.0 * np.maximum(0.0, head - 438.0)
    setup = list("AAABBAAA")
    plain = level[[3, 4]].mean() - level[[0, 1, 2, 5, 6, 7]].mean()
    levels = fit_levels(level, setup, head)
    assert levels.settled == pytest.approx(273.15 + 163.0, abs=1.0)
    assert levels.hot < 0.0
    assert abs(levels.difference("A", "B")[0]) < 0.5 * abs(plain)


def test_the_settled_window_holds_most_pulls():
    assert settled_temperature(np.array([420.0, 440.0, 442.0, 445.0, 470.0])) == pytest.approx(442.33, abs=0.01)
    assert np.isnan(settled_temperature(np.array([np.nan])))


def test_intervals_of_a_difference_cover_the_truth():
    """3 v 3 v 3 pulls, scatter 0.7 %, drift -0.1 % a pull, true effect 2 %: 95 % intervals hold it."""
    from scipy.stats import t

    random = np.random.default_rng(3)
    inside = 0
    for _ in range(400):
        setup = list("AAABBBAAA")
        level = 0.02 * np.array([s == "B" for s in setup]) - 0.001 * np.arange(9) + 0.007 * random.normal(size=9)
        levels = fit_levels(level, setup, np.full(9, np.nan))
        middle, sd = levels.difference("A", "B")
        inside += abs(middle - 0.02) <= t.ppf(0.975, levels.freedom) * sd
    assert 0.92 <= inside / 400 <= 0.99  # 0.95; three standard deviations of the count are 0.033


def test_a_real_difference_is_proven_and_no_difference_is_said_as_such(tmp_path):
    better = [(s, log.columns()) for s, log in day("AAABBBAA", scatter=0.004)]
    for name, columns in better:
        if name == "B":
            columns["torque"] *= 1.06
    found = read_session_pulls(read_session(write_session(tmp_path / "better", better, changes={"B": JETS})))
    (comparison,) = found.comparisons
    assert comparison.proven
    assert comparison.mean_low < 6.0 < comparison.mean_high
    assert "more torque than A" in comparison.text
    same = [(s, log.columns()) for s, log in day("AAABBBAA", scatter=0.004, seed=2)]
    found = read_session_pulls(read_session(write_session(tmp_path / "same", same, changes={"B": JETS})))
    assert not found.comparisons[0].proven
    assert "no difference" in found.comparisons[0].text


def test_weather_correction_is_the_standards_own(tmp_path):
    """SAE J1349 by hand: 22 degC, 100.5 kPa, 45 %: p_v = 0.45 * 2.6447 kPa (steam table), p_dry = 99.310 kPa,
    ca = 99 / 99.310 * sqrt(295 / 298) = 0.99186, cf = 1.18 ca - 0.18 = 0.99039."""
    log = Log(noise=0.0)
    pulls = [("A", log.columns())] * 3
    found = read_session_pulls(read_session(write_session(tmp_path / "s", pulls)))
    assert found.weather[0].factor == pytest.approx(0.99039, abs=2e-4)
    curves = found.setups["A"]
    middle = (curves.rpm > 2600.0) & (curves.rpm < 5800.0)
    np.testing.assert_allclose(curves.torque[middle], 0.99039 * smooth_torque(curves.rpm[middle]), rtol=2e-3)


def test_a_local_change_is_told_although_the_mean_shows_none(tmp_path):
    """A narrow dip, 8 % deep, and 1.2 % more elsewhere: the mean of the band stays."""
    dip = Log(torque=with_dip(lambda rpm: 1.012 * smooth_torque(rpm), 3400.0, 0.08, 350.0))
    logs = {"A": Log(), "B": dip}
    pulls = [(s, day(s, log=logs[s], scatter=0.004, seed=k)[0][1].columns()) for k, s in enumerate("ABBAAB")]
    found = read_session_pulls(read_session(write_session(tmp_path / "s", pulls, changes={"B": JETS})))
    (comparison,) = found.comparisons
    assert not comparison.proven
    assert "less torque than A at 34" in comparison.text
    assert "no difference in the mean" in comparison.text
