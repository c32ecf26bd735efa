"""Band of a whole curve: coverage in simulated sessions; pointwise bands shown to fail."""

import math

import numpy as np
import pytest

from pulsewright.pulls.difference_curve import difference_curve, pull_scatter
from pulsewright.pulls.pull_levels import SCATTER_FREEDOM, SCATTER_PRIOR
from pulsewright.pulls.simultaneous_band import (
    critical_value,
    pooled_covariance,
    roughness,
    t_quantile,
)

SESSIONS = 5000
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


def test_the_product_band_is_no_narrower_than_it_says_where_its_prior_is_true():
    """Pulls with a common gain and independent bins, their scatter drawn from the prior that is stated.

    A common gain makes crossings bunch, so the band is wider than need be: 0.98 instead of 0.95.
    """
    random = np.random.default_rng(5)
    rpm = 2000.0 + 50.0 * np.arange(BINS)
    torque = 50.0 + 5.0 * np.sin(rpm / 900.0)
    holds, sessions = 0, 600
    for _ in range(sessions):
        share = math.sqrt(SCATTER_FREEDOM / random.chisquare(SCATTER_FREEDOM))
        rows = [
            torque
            * np.exp(
                share * (SCATTER_PRIOR * random.standard_normal((3, 1)) + 0.004 * random.standard_normal((3, BINS)))
            )
            for _ in range(3)
        ]
        scatter = pull_scatter(rpm, rows[0], rows[1], rows[2:], span=(2000.0, 4000.0), constant=0.0, drift_freedom=0.0)
        assert scatter is not None
        curve = difference_curve(scatter)
        holds += bool(((curve.low <= 0.0) & (curve.high >= 0.0)).all())
    assert 0.95 <= holds / sessions <= 0.998


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
