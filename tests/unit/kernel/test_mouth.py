"""The mixed gas in front of a mouth, and what blows out of it."""

from pathlib import Path

import numpy as np
import pytest

from pulsewright.bench.sheet import read_setup
from pulsewright.kernel.layout import ATMOSPHERE, RESERVOIR
from pulsewright.kernel.reservoirs import COLDEST, gas_of, move_reservoirs
from pulsewright.network.case import build_case
from pulsewright.network.options import Options

TWIN = Path(__file__).parents[3] / "examples" / "narrow-twin" / "setup.toml"
AIR, BURNED = (0.0, 0.0, 0.0), (1.0, 0.0, 0.065)
NEAR = 300.0  # [K]


@pytest.fixture(scope="module")
def cells():
    return build_case(read_setup(TWIN), Options(), 3000.0).arrays["cells"][0]


def blown_out(cells, temperature: float, fractions: tuple[float, float, float]) -> np.ndarray:
    """A mouth whose gas is replaced in one step by what comes out of a duct slowly at this temperature [K]."""
    energy, constant, _gamma = gas_of(cells, temperature, *fractions)
    mouths = np.zeros(1, dtype=RESERVOIR)
    mouth = mouths[0]
    mouth["kind"], mouth["zone_mass"], mouth["kept"], mouth["T"], mouth["far_T"] = ATMOSPHERE, 1e-4, 1.0, NEAR, NEAR
    mouth["in_mass"] = 2.0
    mouth["in_energy"] = mouth["in_mass"] * (energy + constant * temperature)
    for name, share in zip(("in_b", "in_v", "in_z"), fractions, strict=True):
        mouth[name] = mouth["in_mass"] * share
    move_reservoirs(cells, mouths, 1e-4)
    return mouth


@pytest.mark.parametrize("fractions", [AIR, BURNED])
@pytest.mark.parametrize("temperature", [280.0, 600.0, 1200.0])
def test_gas_that_blows_out_keeps_its_enthalpy(cells, temperature: float, fractions: tuple[float, float, float]):
    """First law of a jet that comes to rest at the same pressure: its temperature stays."""
    mouth = blown_out(cells, temperature, fractions)
    energy, constant, gamma = gas_of(cells, temperature, *fractions)
    assert mouth["T"] == pytest.approx(temperature, abs=1e-3)
    assert (mouth["e"], mouth["R"], mouth["gamma"]) == pytest.approx((energy, constant, gamma), rel=1e-6)
    assert mouth["in_mass"] == mouth["in_energy"] == 0.0


def test_air_at_room_temperature_has_the_values_of_the_tables(cells):
    """Gas constant 287.05 J/(kg K) and gamma 1.400 of dry air at 300 K, as in any table; from memory."""
    mouth = blown_out(cells, NEAR, AIR)
    assert mouth["R"] == pytest.approx(287.05, rel=5e-3)  # the example's air is moist
    assert mouth["gamma"] == pytest.approx(1.400, abs=2e-3)


def test_nothing_colder_comes_out_than_gas_data_hold_for(cells):
    assert blown_out(cells, 120.0, AIR)["T"] == COLDEST
