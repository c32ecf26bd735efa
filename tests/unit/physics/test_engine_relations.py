"""Slopes belong to their curves, atoms are kept, trends point the right way."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pulsewright.physics import slider_crank, wiebe
from pulsewright.physics.burn_duration import LONGEST_DEG, burn_duration
from pulsewright.physics.burned_composition import burned_moles, burned_species, released_heat_fraction
from pulsewright.physics.cylinder_heat import C1_CLOSED, woschni_speed
from pulsewright.physics.knock_delay import autoignition_delay
from pulsewright.physics.weather_correction import correction, doubts

ENGINE = (0.096, 0.096, 0.190)  # bore, stroke, rod [m]


@pytest.mark.parametrize("angle", [13.0, 90.0, 171.0, 300.0, 500.0])
def test_volume_grows_at_its_rate(angle: float):
    ahead, behind = (slider_crank.cylinder_volume(angle + d, *ENGINE, 9.0) for d in (1e-3, -1e-3))
    assert slider_crank.volume_per_degree(angle, *ENGINE) == pytest.approx((ahead - behind) / 2e-3, rel=1e-6)


def test_compression_ratio_is_largest_over_smallest_volume():
    top, bottom = (slider_crank.cylinder_volume(a, *ENGINE, 9.2) for a in (0.0, 180.0))
    assert bottom / top == pytest.approx(9.2, rel=1e-12)


@pytest.mark.parametrize("angle", [-10.0, 5.0, 20.0, 39.0])
def test_burn_rate_is_the_slope(angle: float):
    burn = (-25.0, 60.0, wiebe.A_999, 2.0)
    slope = (wiebe.burned_fraction(angle + 1e-3, *burn) - wiebe.burned_fraction(angle - 1e-3, *burn)) / 2e-3
    assert wiebe.burn_rate(angle, *burn) == pytest.approx(slope, rel=1e-5)
    fraction = wiebe.burned_fraction(angle, *burn)
    assert wiebe.angle_of_fraction(fraction, *burn) == pytest.approx(angle, abs=1e-6)


@settings(max_examples=100, deadline=None)
@given(lam=st.floats(0.5, 1.5), y=st.floats(1.7, 3.0), z=st.floats(0.0, 0.5))
def test_burning_keeps_every_atom(lam: float, y: float, z: float):
    co2, h2o, co, h2, o2, n2 = burned_moles(lam, y, z)
    oxygen = lam * (1.0 + y / 4.0 - z / 2.0)
    assert min(co2, h2o, co, h2, o2, n2) >= 0.0
    assert co2 + co == pytest.approx(1.0, abs=1e-12)
    assert 2.0 * h2o + 2.0 * h2 == pytest.approx(y, abs=1e-12)
    assert 2.0 * co2 + h2o + co + 2.0 * o2 == pytest.approx(2.0 * oxygen + z, abs=1e-12)
    assert n2 == pytest.approx(3.773 * oxygen, rel=1e-12)
    assert sum(burned_species(lam, y, z).values()) == pytest.approx(1.0, abs=1e-12)


def test_rich_burning_leaves_heat_in_the_gas():
    shares = [released_heat_fraction(x, 1.87, 0.0, 43e6) for x in (0.6, 0.7, 0.8, 0.9, 1.0, 1.1)]
    assert shares == sorted(shares)
    assert shares[-2:] == [1.0, 1.0]


def test_burn_stretches_with_speed_and_slow_flames():
    assert burn_duration(60.0, 8000.0, 1000.0, 1.0, 1.0) == pytest.approx(120.0)  # cube root of 8
    assert burn_duration(60.0, 3000.0, 3000.0, 1.0, 8.0) == pytest.approx(240.0)  # 8 to the 2/3
    assert burn_duration(60.0, 3000.0, 3000.0, 0.0, 1.0) == LONGEST_DEG


def test_knock_comes_sooner_when_hotter_and_later_with_octane():
    base = autoignition_delay(95.0, 40e5, 850.0)
    assert autoignition_delay(95.0, 40e5, 900.0) < base
    assert autoignition_delay(95.0, 45e5, 850.0) < base
    assert autoignition_delay(98.0, 40e5, 850.0) > base


def test_a_stretched_weather_factor_says_so():
    assert doubts("J1349", 298.15, 100e3, 1e3) == ()
    assert "degC" in doubts("J1349", 318.15, 100e3, 1e3)[0]
    assert "90 to 105" in doubts("J1349", 298.15, 84e3, 1e3)[0]
    assert "0.93 to 1.07" in doubts("ISO1585", 308.15, 97e3, 4e3)[0]
    with pytest.raises(KeyError):
        correction("J9999", 298.15, 100e3, 1e3)


def test_gas_speed_in_the_cylinder_with_combustion():
    """Woschni, SAE 670931: 2.28 * 16 + 3.24e-3 * (Vd Tr / (pr Vr)) * 20 bar = 57.098 m/s by hand."""
    speed = woschni_speed(C1_CLOSED, 16.0, 5.0e-4, 5.5e-4, 350.0, 1e5, 20e5)
    assert speed == pytest.approx(57.098, abs=1e-3)
    assert woschni_speed(C1_CLOSED, 16.0, 5.0e-4, 5.5e-4, 350.0, 1e5, -1e5) == pytest.approx(36.48)


@pytest.mark.parametrize("lam", [0.6, 0.75, 0.9, 0.98])
def test_rich_gas_sits_at_its_water_gas_ratio(lam: float):
    """K = CO H2O / (CO2 H2) = 3.58 at 1740 K (Cantera 3.2.0)."""
    co2, h2o, co, h2, _, _ = burned_moles(lam, 1.87, 0.0)
    assert co * h2o / (co2 * h2) == pytest.approx(3.58, rel=1e-9)
