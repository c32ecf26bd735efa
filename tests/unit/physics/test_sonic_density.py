"""Density at the speed of sound by its series, against its closed formula (St. Venant & Wantzel 1839)."""

import math

import numpy as np
import pytest

from pulsewright.physics.sonic_density import sonic_density


@pytest.mark.parametrize("gamma", np.linspace(1.0, 1.7, 29)[1:])
def test_the_series_is_the_formula(gamma: float):
    assert sonic_density(gamma) == pytest.approx((2.0 / (gamma + 1.0)) ** (1.0 / (gamma - 1.0)), rel=1e-14)


def test_at_its_lower_end_it_is_the_limit():
    assert sonic_density(1.0) == pytest.approx(math.exp(-0.5), rel=1e-14)
