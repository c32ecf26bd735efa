"""Levels of whole pulls: order, drift, heat; difference of two setups."""

from itertools import pairwise

import numpy as np
import pytest
from tests.pull_logs import Log, day, smooth_torque, with_dip, write_session

from pulsewright.bench.session import read_session
from pulsewright.pulls.level_difference import level_difference
from pulsewright.pulls.pull_levels import fit_levels, settled_temperature
from pulsewright.pulls.scatter_prior import USUAL
from pulsewright.pulls.session_pulls import read_session_pulls

JETS = '[ ["carburettor.1.main_jet", "1.45 mm"] ]'


def _drift_bias(order: str, per_pull: float) -> float:
    """Apparent effect of B over A, plain means, under linear drift alone."""
    level = per_pull * np.arange(len(order))
    is_b = np.array([c == "B" for c in order])
    return float(level[is_b].mean() - level[~is_b].mean())


@pytest.mark.parametrize(("order", "bias"), [("AABB", -0.006), ("AAABBB", -0.009), ("ABAB", -0.003), ("ABBA", 0.0)])
@pytest.mark.parametrize("refitted", [False, True])
def test_the_model_removes_the_bias_of_a_bad_order(order, bias, refitted):
    """Biases of plain means under -0.3 % a pull are arithmetic; the model's estimate has none."""
    assert _drift_bias(order, -0.003) == pytest.approx(bias, abs=1e-12)
    level = -0.003 * np.arange(len(order))
    assembly = np.cumsum([0, *(a != b for a, b in pairwise(order))]) if refitted else None
    found = level_difference(level, list(order), ("A", "B"), assembly=assembly)
    assert found.drift_free
    assert found.mean == pytest.approx(0.0, abs=1e-9)
    assert found.drift == pytest.approx(-0.003, abs=1e-9)


def test_the_curves_of_a_session_believe_that_drift_is_small():
    levels = fit_levels(-0.003 * np.arange(4), list("AABB"), np.full(4, np.nan))
    assert -0.003 < levels.order < 0.0
    assert levels.setup_level[1] < levels.setup_level[0]


@pytest.mark.parametrize("order", ["AB", "AAB", "ABC"])
def test_where_the_order_cannot_tell_drift_it_is_believed_small_and_said(order):
    found = level_difference(np.zeros(len(order)), list(order), ("A", "B"))
    assert not found.drift_free
    assert np.isfinite(found.half_width(0.95))


def test_a_bad_order_pays_with_a_wider_interval():
    """Under one scatter the widths go as the square roots of 5 and 1; the prior's share blurs it little."""
    random = np.random.default_rng(8)
    bad, good = (
        np.mean(
            [
                level_difference(0.007 * random.standard_normal(4), list(o), ("A", "B")).half_width(0.95)
                for _ in range(200)
            ]
        )
        for o in ("AABB", "ABBA")
    )
    assert bad / good == pytest.approx(5.0**0.5, rel=0.1)


def test_one_scatter_gives_students_t():
    """Nothing but a prior worth 4 pulls and two pulls each: closed form, drift free, t(0.975; 5) = 2.5706 (tables)."""
    level = np.array([0.004, -0.001, 0.003, -0.006])
    found = level_difference(level, list("ABBA"), ("A", "B"))
    place = np.arange(4) - 1.5
    off = level - np.where([True, False, False, True], level[[0, 3]].mean(), level[[1, 2]].mean())
    slope = place @ off / (place @ place)
    squares = ((off - slope * place) ** 2).sum()
    variance = (4 * USUAL.gain**2 + squares) / 5
    assert found.freedom == 5.0
    assert found.half_width(0.95) == pytest.approx(2.5706 * np.sqrt(variance), rel=2e-3)


def test_an_assembly_made_twice_tells_what_refitting_does():
    """The two assemblies of A lie 4 % apart, pulls repeat within 0.1 %: the refit is large, and so is the doubt."""
    level = np.array([0.0, 0.001, 0.02, 0.021, 0.04, 0.041])
    level -= 0.001 * np.arange(6) % 2
    alike = level * np.array([1, 1, 0, 0, 0, 0])
    apart, near = (
        level_difference(each, list("AABBAA"), ("A", "B"), assembly=np.array([0, 0, 1, 1, 2, 2]), place=np.zeros(6))
        for each in (level, alike)
    )
    assert apart.refit > 1.5 * near.refit
    assert apart.half_width(0.95) > 1.5 * near.half_width(0.95)


def test_heat_is_not_taken_for_a_change():
    head = np.array([160, 163, 165, 200, 202, 201, 204, 164], dtype=float) + 273.15
    level = -0.02 / 40.0 * np.maximum(0.0, head - 438.0)
    setup = list("AAABBAAA")
    plain = level[[3, 4]].mean() - level[[0, 1, 2, 5, 6, 7]].mean()
    levels = fit_levels(level, setup, head)
    assert levels.settled == pytest.approx(273.15 + 163.0, abs=1.0)
    assert levels.hot < 0.0
    assert abs(level_difference(level, setup, ("A", "B"), head=head).mean) < 0.5 * abs(plain)


def test_the_settled_window_holds_most_pulls():
    assert settled_temperature(np.array([420.0, 440.0, 442.0, 445.0, 470.0])) == pytest.approx(442.33, abs=0.01)
    assert np.isnan(settled_temperature(np.array([np.nan])))


@pytest.mark.parametrize("order", ["AAABBBAAA", "AABB"])
def test_intervals_of_a_difference_cover_the_truth(order):
    """400 sessions, scatter drawn from the prior, drift -0.3 % a pull, true effect 2 %: 95 % intervals hold it."""
    random = np.random.default_rng(3)
    setup, inside = list(order), 0
    for _ in range(400):
        scatter = USUAL.gain * np.sqrt(USUAL.freedom / random.chisquare(USUAL.freedom))
        level = 0.02 * np.array([s == "B" for s in setup]) - 0.003 * np.arange(len(setup))
        found = level_difference(level + scatter * random.normal(size=len(setup)), setup, ("A", "B"))
        inside += abs(found.mean - 0.02) <= found.half_width(0.95)
    assert 0.917 <= inside / 400 <= 0.983  # 0.95; three standard deviations of the count are 0.033


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
