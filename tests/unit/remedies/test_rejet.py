"""Jets for another air or fuel: the closed form against its table, the model beside it."""

import numpy as np
import pytest
from tests.trade.generic_twin import twin

from pulsewright.bench.air import Air
from pulsewright.bench.fill_fuel import named_fuel
from pulsewright.bench.sheet import setup_from_text
from pulsewright.outside.tables import table
from pulsewright.remedies.rejet import Rejet, air_at, in_other_air, published_area_ratio, rejet

SEA = Air(temperature=288.15, pressure=101325.0, humidity=0.0)
SPEEDS = (2000.0, 3500.0, 5000.0)


@pytest.fixture(scope="module")
def machine():
    """The generic twin at sea level."""
    return in_other_air(setup_from_text(twin(), "generic twin"), SEA, None)


@pytest.fixture(scope="module")
def thin(machine) -> Rejet:
    """The same machine in air of nine tenths of the density."""
    return rejet(machine, in_other_air(machine, Air(temperature=288.15, pressure=91192.5, humidity=0.0), None), SPEEDS)


def test_area_by_the_closed_form_and_standard_atmosphere(machine):
    """density_rejet.csv (closed form, ICAO Doc 7488), its rows of 15 degC; air as an ideal gas, hence 5e-5."""
    rows = [r for r in table("density_rejet") if r["t_C"] == 15.0]
    assert len(rows) > 4
    for row in rows:
        pressure = air_at(row["altitude_m"], 0.0).pressure
        after = in_other_air(machine, Air(temperature=288.15, pressure=pressure, humidity=0.0), None)
        assert published_area_ratio(machine, after) == pytest.approx(row["jet_area_ratio=sigma^0.5"], rel=5e-5)


def test_e85_needs_its_stoichiometric_ratio_over_petrol(machine):
    """stoich_afr.csv: CH1.87 14.60, E85 9.80; densities 745 and 782.4 kg/m3 (EN 228 and ethanol, from memory)."""
    after = in_other_air(machine, None, named_fuel("E85"))
    expected = 14.60 / 9.80 * np.sqrt(745.0 / (0.85 * 789.0 + 0.15 * 745.0))
    assert published_area_ratio(machine, after) == pytest.approx(expected, rel=2e-3)


def test_a_tenth_less_density_is_a_twentieth_richer(thin: Rejet):
    """Common practice, no published source: about 5 % on fixed jets."""
    assert thin.air_density_ratio == pytest.approx(0.9, abs=1e-6)
    richer = 1.0 - np.mean(thin.lambda_kept / thin.lambda_before)
    assert 0.035 < richer < 0.065


def test_the_models_jets_bring_lambda_back(thin: Rejet):
    assert np.mean(np.log(thin.lambda_after / thin.lambda_before)) == pytest.approx(0.0, abs=2e-3)
    assert thin.model == pytest.approx(thin.published, rel=0.03)
    assert thin.model != pytest.approx(thin.published, rel=1e-6)
    bores = thin.bores()["carburettor.1.main_jet"]
    assert bores["model"] == pytest.approx(1.80e-3 * np.sqrt(thin.model))
    assert bores["now"] == pytest.approx(1.80e-3)
    assert set(thin.bores()) == {"carburettor.1.main_jet", "carburettor.1.intermediate_jet"}


def test_lean_jets_are_called_out(machine):
    found = rejet(machine, in_other_air(machine, None, named_fuel("E85")), (4000.0,))
    assert found.lambda_kept[0] > 1.1
    assert "present jets" in found.cautions()[0]
    assert "measurement" in found.cautions()[-1]
