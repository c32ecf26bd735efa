"""What comes out of the burn: composition, heat left over, air demand."""

from __future__ import annotations

from collections.abc import Iterator

from pulsewright.outside.check import Check, worst
from pulsewright.outside.tables import table
from pulsewright.physics.burned_composition import WATER_GAS, burned_fractions, released_heat_fraction
from pulsewright.physics.stoichiometry import stoichiometric_afr

CANTERA = "Cantera 3.2.0, equilibrium frozen at 1740 K"
SPECIES = ("xCO2", "xH2O", "xCO", "xH2", "xO2", "xN2_Ar")
# Atoms of hydrogen and oxygen per carbon of the fuels in burned_gas.csv.
FUELS = {
    "gasoline CH1.87": (1.87, 0.0),
    "iso-octane C8H18": (2.25, 0.0),
    "E10 (CH1.87 base)": (0.1341154 / 0.06895747, 0.00228536 / 0.06895747),
    "ethanol C2H6O": (3.0, 0.5),
}


def checks() -> Iterator[Check]:
    """Air demand, water-gas constant, composition of each fuel, energy kept in CO and H2."""
    yield worst(
        "chemically correct air-fuel ratio",
        "atom balance, air of Heywood 1988, sect. 3.2",
        (
            (r["fuel"], r["AFR_air_3.773"], stoichiometric_afr(r["H"] / r["C"], r["O"] / r["C"]))
            for r in table("stoich_afr")
        ),
        1e-3,
    )
    water_gas = next(r for r in table("water_gas") if r["T_K"] == 1740)
    yield Check(
        what="water-gas constant at 1740 K",
        source="Cantera 3.2.0",
        expected=water_gas["K=xCO*xH2O/(xCO2*xH2)"],
        got=WATER_GAS,
        tolerance=0.03,
    )
    for fuel, atoms in FUELS.items():
        yield worst(f"mole fractions of burned {fuel}", CANTERA, _composition(fuel, atoms), 0.003, "absolute")
    yield worst(
        "heat released by burning rich",
        "heat of CO and H2 (283.0 and 241.8 kJ/mol) in the composition above",
        _released(),
        0.005,
        "absolute",
    )


def _composition(fuel: str, atoms: tuple[float, float]) -> Iterator[tuple[str, float, float]]:
    for row in table("burned_gas"):
        if row["fuel"] == fuel and row["T_K"] == 1000:
            for name, got in zip(SPECIES, burned_fractions(row["lambda"], *atoms), strict=True):
                yield f"{name[1:]} at lambda {row['lambda']:g}", row[name], got


def _released() -> Iterator[tuple[str, float, float]]:
    heating_value, mass = 43.0e6, 13.89596e-3  # CH1.87: [J/kg], [kg per mole of carbon]
    for row in table("burned_gas"):
        if row["fuel"] == "gasoline CH1.87" and row["T_K"] == 1000 and row["lambda"] < 1.0:
            carbon = row["xCO2"] + row["xCO"]  # moles of carbon in a mole of gas
            left = (row["xCO"] * 283.0e3 + row["xH2"] * 241.8e3) / carbon
            expected = 1.0 - left / (heating_value * mass)
            got = released_heat_fraction(row["lambda"], 1.87, 0.0, heating_value)
            yield f"lambda {row['lambda']:g}", expected, got
