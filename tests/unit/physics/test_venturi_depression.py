"""Depression and flow are each other's inverse; slow flow is Bernoulli's; fast flow chokes."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

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


@settings(max_examples=300, deadline=None)
@given(mach=st.floats(0.0, 0.9), ratio=st.floats(0.2, 1.0), gamma=st.floats(1.1, 1.667))
def test_a_throat_behind_moving_gas_is_as_a_general_solver_finds_it(mach: float, ratio: float, gamma: float):
    """Mass and energy at both places, isentropic between: source as of the module, root by scipy's brentq."""
    p, rho = 1e5, 1.16
    power, to_pressure = 0.5 * (gamma + 1.0) / (gamma - 1.0), gamma / (gamma - 1.0)

    def cooler(m: float) -> float:
        return (1.0 + 0.5 * (gamma - 1.0) * mach**2) / (1.0 + 0.5 * (gamma - 1.0) * m**2)

    def miss(m: float) -> float:
        return m * cooler(m) ** power - mach / ratio

    throat = float(brentq(miss, 0.0, 1.0, xtol=1e-15)) if miss(1.0) > 0.0 else 1.0  # pyright: ignore[reportArgumentType]
    expected = p * (1.0 - cooler(throat) ** to_pressure)
    found = throat_depression(p, rho, mach * math.sqrt(gamma * p / rho), ratio, gamma)
    assert found == pytest.approx(expected, rel=1e-6, abs=1e-4)


@pytest.mark.parametrize("speed", [0.0, 20.0, -20.0, 150.0])
def test_no_throat_no_depression(speed: float):
    assert throat_depression(1e5, 1.16, speed, 1.0, 1.4) == pytest.approx(0.0, abs=1e-4)


def test_gas_at_rest_and_gas_running_back():
    assert throat_depression(1e5, 1.16, 0.0, 0.6, 1.4) == 0.0
    assert throat_depression(1e5, 1.16, -40.0, 0.6, 1.4) == throat_depression(1e5, 1.16, 40.0, 0.6, 1.4)


def test_the_throat_chokes():
    """Sonic pressure ratio of gamma 1.4: 0.528282 (NACA Report 1135)."""
    assert venturi_depression(10.0, 6e-4, 1e5, 300.0, 1.4, 287.0) == pytest.approx(1e5 * (1 - 0.5282818), rel=1e-6)
