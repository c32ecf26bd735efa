"""Holes of known place and depth; curves without one."""

import numpy as np
import pytest
from tests.pull_logs import Log, day, smooth_torque, with_dip

from pulsewright.pulls.bins import bin_average, bin_centres
from pulsewright.pulls.hole import counted, deepest_dip, find_hole
from pulsewright.pulls.trend import trend

CENTRES = bin_centres(2250.0, 5950.0)


def _binned(logs: list[Log]) -> np.ndarray:
    rows = []
    for log in logs:
        columns = log.columns()
        rows.append(bin_average(columns["rpm"], columns["torque"], CENTRES))
    return np.vstack(rows)


def test_the_trend_keeps_a_wave_hole():
    """Common practice: a wave hole is 15 % of its speed wide or more; 500 rpm must keep 97 % of its depth."""
    dip = with_dip(np.ones_like, 3400.0, 0.1, 500.0)(CENTRES)
    assert 0.97 < (1.0 - trend(CENTRES, dip).min()) / 0.1 <= 1.0


def test_the_trend_follows_a_parabola_exactly_inside():
    inside = slice(6, -6)
    parabola = smooth_torque(CENTRES)
    np.testing.assert_allclose(trend(CENTRES, parabola)[inside], parabola[inside], rtol=1e-12)


def test_bins_average_a_straight_line_to_its_middle_whatever_the_sampling():
    speed = np.sort(np.random.default_rng(1).uniform(2000.0, 6000.0, 300))
    binned = bin_average(speed, 2.0 * speed, CENTRES)
    known = np.isfinite(binned)
    assert known.mean() > 0.9
    np.testing.assert_allclose(binned[known], 2.0 * CENTRES[known], atol=1e-6)


@pytest.mark.parametrize(
    ("centre", "depth", "width"), [(3400.0, 0.10, 500.0), (3300.0, 0.14, 800.0), (4200.0, 0.22, 900.0)]
)
def test_a_hole_is_found_where_it_is(centre, depth, width):
    curve = with_dip(smooth_torque, centre, depth, width)
    fine = np.arange(2250.0, 5900.0, 5.0)
    true = curve(fine)
    bottom = _true_bottom(fine, true)
    expected = 1.0 - curve(np.array([bottom]))[0] / min(
        true[(fine < bottom) & (fine > bottom - 1500)].max(),
        true[(fine > bottom) & (fine < bottom + 1500)].max(),
    )
    for seed in range(5):
        hole = find_hole(CENTRES, _binned([log for _, log in day("AAA", log=Log(torque=curve), seed=seed)]))
        assert hole is not None
        assert hole.rpm_bottom == pytest.approx(bottom, abs=40.0)
        assert hole.depth == pytest.approx(expected, abs=0.02)
        assert hole.depth_low < hole.depth < hole.depth_high
        assert hole.rpm_from < bottom < hole.rpm_to
        assert hole.repeats


def _true_bottom(rpm: np.ndarray, torque: np.ndarray) -> float:
    depths = [
        1.0 - q / min(torque[(rpm <= r) & (rpm >= r - 1500)].max(), torque[(rpm >= r) & (rpm <= r + 1500)].max())
        for r, q in zip(rpm, torque, strict=True)
    ]
    return float(rpm[int(np.argmax(depths))])


def test_the_interval_of_the_depth_covers_the_truth():
    curve = with_dip(smooth_torque, 3300.0, 0.10, 700.0)
    true = deepest_dip(CENTRES, curve(CENTRES)[None, :])
    assert true is not None
    inside = 0
    for seed in range(40):
        hole = deepest_dip(CENTRES, _binned([log for _, log in day("AAA", log=Log(torque=curve), seed=seed)]))
        assert hole is not None
        inside += hole.depth_low <= true.depth <= hole.depth_high
    assert inside >= 34  # 95 % of 40 is 38; three standard deviations of the count are 4


def test_smooth_curves_show_no_hole():
    found = [find_hole(CENTRES, _binned([log for _, log in day("AAA", seed=seed)])) for seed in range(40)]
    assert not any(found)


def test_the_edges_lie_one_per_cent_under_the_lower_shoulder():
    curve = with_dip(lambda rpm: np.full_like(rpm, 50.0), 3500.0, 0.10, 800.0)(CENTRES)
    hole = find_hole(CENTRES, np.vstack([curve, curve]))
    assert hole is not None
    # 0.10 exp(-x^2 / 2 s^2) = 0.01 at x = s sqrt(2 ln 10), s = 800 / 2.3548
    reach = 800.0 / 2.3548 * np.sqrt(2 * np.log(10.0))
    assert hole.rpm_from == pytest.approx(3500.0 - reach, abs=10.0)
    assert hole.rpm_to == pytest.approx(3500.0 + reach, abs=10.0)


@pytest.mark.parametrize(
    ("centre", "depth", "width"), [(3400.0, 0.10, 500.0), (3300.0, 0.14, 800.0), (4200.0, 0.22, 900.0)]
)
def test_the_loss_against_a_smooth_curve_is_the_dip_that_was_put_in(centre, depth, width):
    """Without noise: exact but for what the trend takes; the curve without the dip is a parabola."""
    curve = with_dip(smooth_torque, centre, depth, width)(CENTRES)
    hole = find_hole(CENTRES, np.vstack([curve, curve]))
    assert hole is not None
    assert hole.loss is not None
    assert hole.loss.rpm.value == pytest.approx(centre, abs=8.0)
    assert hole.loss.loss.value == pytest.approx(depth, abs=0.005)
    assert hole.loss.width.value == pytest.approx(width, rel=0.05)


def test_the_loss_does_not_hang_on_the_dip_being_a_bell():
    """A dip with straight sides, 8 % deep and 600 rpm wide at half depth, on a falling curve."""
    healthy = 50.0 - 0.002 * (CENTRES - 3000.0)
    curve = healthy * (1.0 - 0.08 * np.clip(1.0 - np.abs(CENTRES - 3700.0) / 600.0, 0.0, 1.0))
    hole = find_hole(CENTRES, np.vstack([curve, curve]))
    assert hole is not None
    assert hole.loss is not None
    assert hole.loss.rpm.value == pytest.approx(3700.0, abs=20.0)
    assert hole.loss.loss.value == pytest.approx(0.08, abs=0.02)
    assert hole.loss.width.value == pytest.approx(600.0, rel=0.2)


def test_a_hole_that_does_not_repeat_is_not_counted():
    curve = with_dip(smooth_torque, 3300.0, 0.15, 700.0)
    alone = find_hole(CENTRES, _binned([Log(torque=curve)]))
    twice = find_hole(CENTRES, _binned([Log(torque=curve, seed=k) for k in range(2)]))
    assert alone is not None
    assert counted(alone) is None
    assert counted(twice) is twice
    assert counted(None) is None


@pytest.mark.slow
@pytest.mark.parametrize(
    ("centre", "depth", "width"), [(3400.0, 0.10, 500.0), (3300.0, 0.14, 800.0), (4200.0, 0.22, 900.0)]
)
def test_holes_are_recovered_in_200_sessions_of_two_to_five_pulls(centre, depth, width):
    """Scatter of gain and bins drawn from their priors. Place within 40 rpm, depth within 0.02, 95 % intervals."""
    curve = with_dip(smooth_torque, centre, depth, width)
    true = deepest_dip(CENTRES, curve(CENTRES)[None, :])
    assert true is not None
    random = np.random.default_rng(12)
    near: list[list[bool]] = []
    held: list[list[bool]] = []
    for seed in range(200):
        noise, gain = (0.004, 0.007) * np.sqrt(4.0 / random.chisquare(4.0, 2))
        pulls = day("A" * int(random.integers(2, 6)), log=Log(torque=curve, noise=noise), scatter=gain, seed=500 + seed)
        hole = find_hole(CENTRES, _binned([log for _, log in pulls]))
        assert hole is not None
        assert hole.loss is not None
        loss, at, wide = hole.loss.loss, hole.loss.rpm, hole.loss.width
        near.append([
            abs(hole.rpm_bottom - true.rpm_bottom) <= 40.0, abs(hole.depth - true.depth) <= 0.02,
            abs(at.value - centre) <= 40.0, abs(loss.value - depth) <= 0.02,
        ])  # fmt: skip
        held.append([
            hole.bottom_low <= true.rpm_bottom <= hole.bottom_high, hole.depth_low <= true.depth <= hole.depth_high,
            at.low <= centre <= at.high, loss.low <= depth <= loss.high, wide.low <= width <= wide.high, hole.repeats,
        ])  # fmt: skip
    print(f"{centre:g} rpm: near {np.mean(near, axis=0)}, intervals and repeats {np.mean(held, axis=0)}")
    assert (np.mean(near, axis=0) >= 0.95).all()
    assert (np.mean(held, axis=0) >= 0.89).all()  # 0.95 less four standard deviations of the count


def test_one_pull_proves_no_repetition():
    curve = with_dip(smooth_torque, 3300.0, 0.15, 700.0)
    hole = find_hole(CENTRES, _binned([Log(torque=curve)]))
    assert hole is not None
    assert not hole.repeats


def test_a_dip_in_one_pull_of_three_is_not_repeated():
    curves = _binned([Log(seed=1), Log(seed=2), Log(torque=with_dip(smooth_torque, 3300.0, 0.25, 500.0), seed=3)])
    hole = find_hole(CENTRES, curves)
    assert hole is None or not hole.repeats
