"""Depression and flow are each other's inverse; slow flow is Bernoulli's; fast flow chokes."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pulsewright.physics.venturi_depression import throat_depression, venturi_air_flow, venturi_depression


@settings(max_examples=100, deadline=None)
@given(depression=st.floats(1.0, 43e3), gamma=st.floats(1.25, 1.4))
def test_there_and_back(depression: float, gamma: float):
    flow = venturi_air_flow(6e-4, 1e5, 300.0, depression, gamma, 287.0)
    assert venturi_depression(flow, 6e-4, 1e5, 300.0, gamma, 287.0) == pytest.approx(depression, rel=1e-6, abs=1e-4)
    assert venturi_depression(-flow, 6e-4, 1e5, 300.0, gamma, 287.0) == pytest.approx(depression, rel=1e-6, abs=1e-4)


def test_slow_flow_through_a_throat_is_bernoulli():
    p, rho, u, ratio = 1e5, 1.16, 5.0, 0.7
    expected = 0.5 * rho * u**2 * (1.0 / ratio**2 - 1.0)
    assert throat_depression(p, rho, u, ratio, 1.4) == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize("speed", [0.0, 20.0, -20.0, 150.0])
def test_no_throat_no_depression(speed: float):
    assert throat_depression(1e5, 1.16, speed, 1.0, 1.4) == pytest.approx(0.0, abs=1e-4)


def test_gas_at_rest_and_gas_running_back():
    assert throat_depression(1e5, 1.16, 0.0, 0.6, 1.4) == 0.0
    assert throat_depression(1e5, 1.16, -40.0, 0.6, 1.4) == throat_depression(1e5, 1.16, 40.0, 0.6, 1.4)


def test_the_throat_chokes():
    """Sonic pressure ratio of gamma 1.4: 0.528282 (NACA Report 1135)."""
    assert venturi_depression(10.0, 6e-4, 1e5, 300.0, 1.4, 287.0) == pytest.approx(1e5 * (1 - 0.5282818), rel=1e-6)
