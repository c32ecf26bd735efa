"""The wall's heat balance closes, whatever the wall is made of."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pulsewright.physics import wall_temperature as wt
from pulsewright.physics.pipe_heat import outside_coefficient

SHOP = (298.0, 1.0e5, 3.0)  # [K], [Pa], [m/s]
BORE, WALL = 0.042, 1.5e-3


@settings(max_examples=50, deadline=None)
@given(h=st.floats(5.0, 2000.0), gas=st.floats(250.0, 1500.0), kind=st.integers(0, 3), wind=st.floats(0.0, 20.0))
def test_heat_in_is_heat_out(h: float, gas: float, kind: int, wind: float):
    inner, skin = wt.wall_temperature(h, h * gas, kind, BORE, WALL, 298.0, 1.0e5, wind)
    outside = wt.outer_diameter(kind, BORE, WALL)
    to_air = outside_coefficient(outside, skin, 298.0, 1.0e5, wind, wt.skin_emissivity(kind))
    lost = to_air * (skin - 298.0) * outside / BORE
    assert h * (gas - inner) == pytest.approx(lost, rel=1e-6, abs=1e-4)
    low, high = sorted((298.0, gas))
    assert low - 1e-6 <= skin <= high + 1e-6


@pytest.mark.parametrize("kind", [wt.DOUBLE, wt.WRAPPED, wt.COATED])
def test_lagging_keeps_the_inside_hot_and_the_skin_of_wrap_and_gap_cool(kind: int):
    bare, bare_skin = wt.wall_temperature(150.0, 150.0 * 1000.0, wt.SINGLE, BORE, WALL, *SHOP)
    inner, skin = wt.wall_temperature(150.0, 150.0 * 1000.0, kind, BORE, WALL, *SHOP)
    assert inner > bare + 5.0
    if kind != wt.COATED:
        assert skin < bare_skin - 50.0


def test_a_fan_cools_the_pipe():
    still, _ = wt.wall_temperature(150.0, 150.0 * 1000.0, wt.SINGLE, BORE, WALL, 298.0, 1.0e5, 0.0)
    blown, _ = wt.wall_temperature(150.0, 150.0 * 1000.0, wt.SINGLE, BORE, WALL, 298.0, 1.0e5, 15.0)
    assert blown < still - 50.0
