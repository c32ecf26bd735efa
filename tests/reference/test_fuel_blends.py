"""Blends against the atom balance of Heywood 1988, sect. 3.2 (outside/data/stoich_afr.csv)."""

import pytest

from pulsewright.bench.fill_fuel import ETHANOL_VOLUME, blend
from pulsewright.outside.tables import table
from pulsewright.physics.fuel import density_at


@pytest.mark.parametrize(("share", "row"), [(0.05, "E5 in"), (0.10, "E10 in"), (0.15, "E15 in"), (0.85, "E85 in")])
def test_blend_needs_the_air_of_its_atoms(share: float, row: str):
    printed = next(r for r in table("stoich_afr") if r["fuel"].startswith(row))
    liquid, ratio = blend(share)
    assert ratio == pytest.approx(printed["AFR_air_3.773"], rel=1e-3)
    assert liquid.hydrogen_per_carbon == pytest.approx(printed["H"] / printed["C"], rel=2e-3)


def test_pure_ends_of_the_scale():
    assert blend(0.0)[1] == pytest.approx(14.5996, rel=1e-4)
    assert blend(1.0)[1] == pytest.approx(9.0025, rel=1e-4)


def test_density_lies_in_the_band_and_falls_with_heat():
    """EN 228 (from memory): 720 to 775 kg/m3 at 15 degC."""
    petrol = blend(ETHANOL_VOLUME["petrol"])[0].density
    assert 720.0 <= petrol <= 775.0
    assert density_at(petrol, 298.15) == pytest.approx(petrol * 0.988, rel=1e-9)
