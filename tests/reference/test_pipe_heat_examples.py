"""Incropera & DeWitt, Fundamentals of Heat and Mass Transfer: worked examples and table A.4 (from memory)."""

import pytest

from pulsewright.physics.pipe_heat import cross_flow_convection, natural_convection, nusselt, nusselt_analogy
from pulsewright.physics.viscosity import viscosity

ATMOSPHERE = 101325.0


def test_wind_across_a_rod():
    """Example 7.4: 12.7 mm, 10 m/s, 26.2 degC, surface 128.4 degC; Churchill & Bernstein give 96 W/(m2 K)."""
    h = cross_flow_convection(0.0127, 401.6, 299.4, ATMOSPHERE, 10.0)
    assert h == pytest.approx(96.0, rel=0.03)  # properties there are read from a table


def test_still_air_round_a_steam_pipe():
    """Ex. 9.4: 100 mm, 165 degC in a room of 23 degC; Rayleigh 5.07e6, Nusselt 23.3 (Churchill & Chu)."""
    h = natural_convection(0.100, 438.15, 296.15, ATMOSPHERE)
    assert h == pytest.approx(23.3 * 0.0313 / 0.100, rel=0.03)  # conductivity of table A.4 at 367 K


@pytest.mark.parametrize(("temperature", "micro"), [(300.0, 18.46), (600.0, 30.58), (1000.0, 42.44), (1200.0, 47.30)])
def test_viscosity_of_hot_air(temperature: float, micro: float):
    """Table A.4, air; Sutherland's law runs 2 to 3 % low above 1000 K."""
    assert viscosity(temperature) * 1e6 == pytest.approx(micro, rel=0.03)


def test_heat_by_analogy_is_that_of_smooth_pipes():
    """Dittus & Boelter: Nu = 0.023 Re^0.8 Pr^0.4; friction 0.0179898 at Re 1e5 (fluids 1.3.1)."""
    assert nusselt_analogy(1e5, 0.7, 0.0179898) == pytest.approx(0.023 * 1e4 * 0.7**0.4, rel=0.05)


def test_heat_in_engine_pipes():
    """Depcik & Assanis, SAE 2002-01-0372 (from memory): 0.0718 Re^0.75, so 71.8 at Re 10000."""
    assert nusselt(1e4) == pytest.approx(71.8, rel=1e-9)
    assert nusselt(0.0) == 3.66  # laminar pipe, constant wall temperature
