"""Broad changes told from local ones, the worst point, and healthy sessions without a false difference."""

import numpy as np
from tests.pull_logs import Log, day, smooth_torque, with_dip

from pulsewright.pulls.bins import bin_average, bin_centres
from pulsewright.pulls.difference_curve import DifferenceCurve, difference_curve, draw_differences, shapes
from pulsewright.pulls.level_difference import level_difference
from pulsewright.pulls.scatter_prior import USUAL, ScatterPrior

RPM = bin_centres(2250.0, 5650.0)
BAND = (2500.0, 4500.0)
SEEDS = range(40)


def binned(setup: str, log: Log, seed: int) -> np.ndarray:
    rows = []
    for _, each in day(setup, log=log, seed=seed):
        columns = each.columns()
        rows.append(bin_average(columns["rpm"], columns["torque"], RPM))
    return np.vstack(rows)


def compared(curve, seed: int, prior: ScatterPrior = USUAL) -> DifferenceCurve:
    """Three pulls of each of three setups in the order A-B-C-C-B-A-A-B-C; B has `curve`."""
    first, third = binned("AAA", Log(), 3 * seed), binned("CCC", Log(), 3 * seed + 2)
    second = binned("BBB", Log(torque=curve), 3 * seed + 1)
    shape = shapes(RPM, first, second, [third], span=BAND, prior=prior)
    assert shape is not None
    inside = (BAND[0] <= RPM) & (BAND[1] >= RPM)
    means = {
        s: list(np.log(rows[:, inside]).mean(axis=1)) for s, rows in zip("ABC", (first, second, third), strict=True)
    }
    setup = list("ABCCBAABC")
    levels = np.array([means[s].pop() for s in setup])
    level = level_difference(levels, setup, ("A", "B"), prior=prior)
    return difference_curve(shape, level, draw_differences(shape, level, count=2000))


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
    sure, doubtful = compared(curve, 0), compared(curve, 0, ScatterPrior(gain=0.03))
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
    shape = shapes(RPM, first, second, [], span=BAND)
    assert shape is not None
    assert shape.rpm[shape.band].min() == 2500.0
    assert shape.rpm.max() <= 4000.0
    assert shapes(RPM, first, second, [], span=(4200.0, 4500.0)) is None


def test_what_all_speeds_share_is_no_part_of_the_shape():
    """Gains of 5 % and a difference of 20 %: the shape is flat, its scatter the prior's alone."""
    gains = np.array([-0.05, 0.0, 0.05])
    rows = smooth_torque(RPM) * np.exp(gains)[:, None]
    shape, still = (shapes(RPM, rows * up, rows * 1.2, [], span=BAND) for up in (1.0, np.exp(-gains)[:, None]))
    assert shape is not None
    assert still is not None
    np.testing.assert_allclose(shape.difference, 0.0, atol=1e-12)
    np.testing.assert_allclose(shape.covariance, still.covariance, atol=1e-15)
    assert shape.freedom == 8.0  # 4 of the prior, 2 of each setup
