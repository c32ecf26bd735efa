"""Fuels against the atom balance of outside values.

Stoichiometric ratios: atom balance with air of 3.773 N2 per O2 (Heywood 1988, section 3.2), computed apart
from this code: iso-octane 15.128, ethanol 9.003, methanol 6.472, toluene 13.503, petrol CH1.87 14.600,
E5 14.304, E10 14.010, E85 9.802. Bands: petrol heating value 42 to 44 MJ/kg, EN 228 density 720 to 775 kg/m³,
latent heat 300 to 380 kJ/kg; ethanol 26.8 MJ/kg, 789 kg/m³, 840 kJ/kg (handbooks, from memory).
"""

import pytest

from pulsewright.bench.fill_fuel import composition_of, fill_fuel, stoichiometric_ratio
from pulsewright.bench.given import Given
from pulsewright.bench.place import Place
from pulsewright.errors import InputError


def fuel_of(**values):
    place = Place("sheet.toml", path=("fuel",))
    return fill_fuel(Given(values, place)), place.assumptions


@pytest.mark.parametrize(
    ("hydrogen", "oxygen", "ratio"),
    [(18 / 8, 0, 15.12773), (3, 0.5, 9.002519), (4, 1, 6.471772), (8 / 7, 0, 13.50334), (1.87, 0, 14.59961)],
)
def test_ratio_by_atom_balance(hydrogen: float, oxygen: float, ratio: float):
    assert stoichiometric_ratio(hydrogen, oxygen) == pytest.approx(ratio, rel=1e-3)


@pytest.mark.parametrize(
    ("kind", "ratio"),
    [("petrol", 14.600), ("E5", 14.3041), ("E10", 14.0103), ("E85", 9.80195), ("ethanol", 9.002519)],
)
def test_named_fuels_have_the_ratio_of_their_blend(kind: str, ratio: float):
    fuel, assumptions = fuel_of(kind=kind)
    assert fuel.stoichiometric_afr == pytest.approx(ratio, rel=1e-3)
    assert [each.key for each in assumptions] == ["fuel"]
    assert 700 <= fuel.density <= 800


def test_petrol_and_ethanol_lie_in_the_handbooks_bands():
    petrol, _ = fuel_of(kind="petrol")
    assert 42e6 <= petrol.heating_value <= 44e6
    assert 720 <= petrol.density <= 775
    assert 300e3 <= petrol.latent_heat <= 380e3
    ethanol, _ = fuel_of(kind="ethanol")
    assert (ethanol.heating_value, ethanol.density, ethanol.latent_heat) == (26.8e6, 789.0, 840e3)


def test_nothing_said_is_petrol_and_says_so():
    fuel, assumptions = fuel_of()
    assert fuel.kind == "petrol"
    assert [each.key for each in assumptions] == ["fuel.kind", "fuel"]


def test_a_fuel_of_ones_own_needs_three_numbers():
    fuel, _ = fuel_of(stoichiometric_afr=13.9, density=750.0, heating_value=42e6)
    assert (fuel.kind, fuel.stoichiometric_afr) == ("custom", 13.9)
    with pytest.raises(InputError, match="heating_value is missing"):
        fuel_of(stoichiometric_afr=13.9, density=750.0)


@pytest.mark.parametrize("ratio", [6.6, 8.0, 9.5, 12.0, 14.2, 14.6, 15.1, 17.0])
def test_the_assumed_composition_has_the_given_ratio(ratio: float):
    assert stoichiometric_ratio(*composition_of(ratio)) == pytest.approx(ratio, rel=1e-9)


def test_a_ratio_that_its_atoms_cannot_have_is_refused():
    with pytest.raises(InputError, match=r"needs 14\.60"):
        fuel_of(
            stoichiometric_afr=9.0,
            density=750.0,
            heating_value=42e6,
            hydrogen_per_carbon=1.87,
            oxygen_per_carbon=0.0,
        )
