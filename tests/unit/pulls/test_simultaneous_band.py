"""Band of a whole curve: coverage in simulated sessions; pointwise bands shown to fail."""

import math

import numpy as np
import pytest
from tests.unit.pulls.simulated_sessions import Shop, seen

from pulsewright.pulls.scatter_prior import USUAL, ScatterPrior
from pulsewright.pulls.simultaneous_band import (
    critical_value,
    pooled_covariance,
    roughness,
    t_curves,
    t_quantile,
)

SESSIONS = 5000
QUICK = 150
BINS = 41  # 2000 to 4000 rpm in bins of 50


def smooth_noise(length: float) -> np.ndarray:
    """Root of a squared-exponential correlation over a range of 1. (BINS, BINS)"""
    x = np.linspace(0.0, 1.0, BINS)
    correlation = np.exp(-0.5 * ((x[:, None] - x) / length) ** 2)
    return np.linalg.cholesky(correlation + 1e-9 * np.eye(BINS))


@pytest.mark.parametrize(
    ("setups", "length", "most", "holds_pointwise"),
    [
        ((3, 3, 3), 0.1, 0.96, 0.65),
        ((4, 4), 0.2, 0.96, 0.80),
        ((4, 4, 4), 0.1, 0.96, 0.65),
        ((5, 4, 3, 3), 0.05, 0.97, 0.50),  # two bins a correlation length: wider than need be, never narrower
    ],
)
def test_coverage_of_the_difference_of_two_setups_in_5000_sessions(setups, length, most, holds_pointwise):
    """Roughness and scatter are both estimated from the session's own pulls, pooled over its setups."""
    random = np.random.default_rng(11)
    root = smooth_noise(length)
    whole = pointwise = 0
    for _ in range(SESSIONS):
        groups = [random.standard_normal((n, BINS)) @ root.T for n in setups]
        covariance, freedom = pooled_covariance(groups)
        sd = np.sqrt(np.diag(covariance) * (1.0 / setups[0] + 1.0 / setups[1]))
        off = np.abs((groups[1].mean(axis=0) - groups[0].mean(axis=0)) / sd).max()
        whole += off <= critical_value(roughness(covariance), freedom, bins=BINS)
        pointwise += off <= t_quantile(0.025, freedom)
    assert 0.94 <= whole / SESSIONS <= most
    assert pointwise / SESSIONS < holds_pointwise  # a band for one speed is no band for the curve


@pytest.mark.parametrize(
    "shop",
    [
        Shop(order="ABBA", usual=USUAL),
        Shop(order="AABBB", usual=ScatterPrior(gain=0.015, noise=0.001)),  # the gain of whole pulls dominates
        Shop(order="ABBAAB", usual=ScatterPrior(gain=0.003, noise=0.015)),  # the noise of bins does
        Shop(order="AAABBBAA", usual=ScatterPrior(gain=0.003, refit=0.015), refitted=True),
    ],
)
def test_the_band_of_a_comparison_holds_in_95_of_100_sessions_of_the_shops_it_is_for(shop):
    """A quick look; test_coverage_study.py takes 5,000 sessions a shop and more kinds of shop."""
    random = np.random.default_rng(3)
    held = sum(seen(shop, random, draws=1000).whole for _ in range(QUICK))
    slack = 3.5 * math.sqrt(0.95 * 0.05 / QUICK)
    assert 0.95 - slack <= held / QUICK <= 0.95 + slack


def test_drawn_curves_leave_as_often_as_the_formula_says():
    """Kac-Rice (arXiv 1901.06386, 1910.00131) for curves 0.1 long of 1, 12 degrees of freedom, all from pulls."""
    root = smooth_noise(0.1)
    covariance = 0.3 * (root @ root.T)
    random = np.random.default_rng(4)
    curves = t_curves(covariance, 20_000, prior_freedom=1e-9, pull_freedom=12, random=random)
    drawn = np.quantile(np.abs(curves / np.sqrt(np.diag(covariance))).max(axis=1), 0.95)
    assert drawn == pytest.approx(critical_value(roughness(covariance), 12.0), rel=0.02)


def test_drawn_curves_whose_scatter_the_prior_tells_share_one_chi_square():
    """All bins alike: Student's t of one number."""
    curves = t_curves(np.ones((5, 5)), 20_000, prior_freedom=6.0, pull_freedom=0, random=np.random.default_rng(5))
    assert np.ptp(curves, axis=1).max() < 1e-6
    assert np.quantile(np.abs(curves[:, 0]), 0.95) == pytest.approx(2.4469, rel=0.03)  # t(0.975; 6), printed tables


def test_a_curve_that_cannot_bend_needs_no_more_than_one_speed_does():
    assert critical_value(0.0, 7.0) == pytest.approx(t_quantile(0.025, 7.0), rel=1e-9)


def test_bonferroni_takes_over_where_neighbouring_bins_are_independent():
    covariance = np.eye(30)
    assert roughness(covariance) == pytest.approx(29 * math.pi / 2)
    rough = critical_value(roughness(covariance), math.inf, bins=30)
    assert rough == pytest.approx(t_quantile(0.05 / 60.0, math.inf))
    assert rough < critical_value(roughness(covariance), math.inf)


def test_pooling_takes_every_setup_around_its_own_mean():
    groups = [np.array([[1.0, 5.0], [3.0, 5.0]]), np.array([[10.0, 0.0], [10.0, 4.0]])]
    covariance, freedom = pooled_covariance(groups)
    assert freedom == 2
    np.testing.assert_allclose(covariance, [[1.0, 0.0], [0.0, 4.0]])
    steadied, freedom = pooled_covariance(groups, prior=np.eye(2), prior_freedom=2.0)
    assert freedom == 4.0
    np.testing.assert_allclose(steadied, [[1.0, 0.0], [0.0, 2.5]])
