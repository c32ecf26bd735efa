"""Broad changes told from local ones, the worst point, and healthy sessions without a false difference."""

import numpy as np
import pytest
from tests.pull_logs import Log, day, smooth_torque, with_dip

from pulsewright.pulls.bins import bin_average, bin_centres
from pulsewright.pulls.difference_curve import (
    DifferenceCurve,
    difference_curve,
    mean_difference,
    pull_scatter,
)
from pulsewright.pulls.pull_levels import SCATTER_PRIOR

RPM = bin_centres(2250.0, 5650.0)
BAND = (2500.0, 4500.0)
SEEDS = range(40)


def binned(setup: str, log: Log, seed: int) -> np.ndarray:
    rows = []
    for _, each in day(setup, log=log, seed=seed):
        columns = each.columns()
        rows.append(bin_average(columns["rpm"], columns["torque"], RPM))
    return np.vstack(rows)


def compared(curve, seed: int, constant: float = 0.0) -> DifferenceCurve:
    first, third = binned("AAA", Log(), 3 * seed), binned("CCC", Log(), 3 * seed + 2)
    second = binned("BBB", Log(torque=curve), 3 * seed + 1)
    scatter = pull_scatter(RPM, first, second, [third], span=BAND, constant=constant, drift_freedom=0.5)
    assert scatter is not None
    return difference_curve(scatter)


def test_a_loss_over_the_whole_band_is_broad():
    kinds = [compared(lambda rpm: 0.95 * smooth_torque(rpm), seed).kind for seed in SEEDS]
    assert kinds.count("broad") >= 37


def test_a_dip_is_local_and_its_place_and_depth_are_inside_the_band():
    curve = with_dip(smooth_torque, 3400.0, 0.08, 500.0)
    found = [compared(curve, seed) for seed in SEEDS]
    assert sum(f.kind == "local" for f in found) >= 38
    assert sum(abs(f.worst.rpm - 3400.0) <= 100.0 for f in found) >= 38
    # the trend keeps 97 % of a dip 500 rpm wide and more
    assert sum(f.worst.low <= -8.0 * 0.97 <= f.worst.high for f in found) >= 36
    assert all(any(a <= 3400.0 <= b for a, b in f.differs) for f in found)


def test_a_doubt_that_all_speeds_share_widens_the_band_but_hides_no_dip():
    curve = with_dip(smooth_torque, 3400.0, 0.08, 500.0)
    sure, doubtful = compared(curve, 0), compared(curve, 0, constant=0.02**2)
    assert (doubtful.high - doubtful.low > sure.high - sure.low).all()
    assert doubtful.kind == "local"


def test_healthy_setups_differ_in_few_sessions():
    """Neither curve nor mean nor shape should leave its 95 % interval often; the three may do so apart."""
    found = [compared(smooth_torque, seed) for seed in SEEDS]
    assert sum(bool(f.differs) for f in found) <= 5  # 2 expected; two standard deviations more
    assert sum(f.kind == "none" for f in found) >= 32


def test_pulls_that_do_not_reach_are_left_out_of_the_bins_compared():
    first, second = binned("AAA", Log(), 1), binned("BBB", Log(), 2)
    second[0, RPM > 4000.0] = np.nan
    scatter = pull_scatter(RPM, first, second, [], span=BAND, constant=0.0, drift_freedom=0.0)
    assert scatter is not None
    assert scatter.rpm.min() == 2500.0
    assert scatter.rpm.max() <= 4000.0
    short = pull_scatter(RPM, first, second, [], span=(4200.0, 4500.0), constant=0.0, drift_freedom=0.0)
    assert short is None


def test_the_mean_has_the_interval_of_whole_pulls():
    """With a common gain only: sqrt(2 / 3) of the sd of one pull, prior and pulls pooled."""
    gains = np.array([-0.01, 0.0, 0.01])
    rows = smooth_torque(RPM) * np.exp(gains)[:, None]
    scatter = pull_scatter(RPM, rows, rows * 1.02, [], span=BAND, constant=0.0, drift_freedom=0.0)
    assert scatter is not None
    mean = mean_difference(scatter)
    assert mean.percent == pytest.approx(2.0, abs=1e-6)
    assert scatter.freedom == 8.0  # 4 of the prior, 2 of each setup
    variance = (4 * SCATTER_PRIOR**2 + 4 * 0.01**2) / 8 * 2 / 3
    by_hand = 2.3060 * np.sqrt(variance)  # t(0.975; 8) = 2.3060, printed tables
    half = 0.5 * (np.log1p(mean.high / 100) - np.log1p(mean.low / 100))
    assert half == pytest.approx(by_hand, rel=0.03)  # the prior's bin noise adds a little
