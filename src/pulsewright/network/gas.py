"""The working gas of an engine: this fuel, burned in this air."""

from __future__ import annotations

from dataclasses import dataclass

from pulsewright.bench.air import REFERENCE_AIR, Air
from pulsewright.bench.fuel import Fuel
from pulsewright.physics.burned_composition import ARGON_SHARE, burned_moles
from pulsewright.physics.gas_properties import DRY_AIR, RICH_LAMBDA, WorkingGas, working_gas
from pulsewright.physics.humid_air import humidity_ratio, vapour_pressure


@dataclass(frozen=True, slots=True, kw_only=True)
class Charge:
    """Outside air and the gas it makes with the fuel."""

    air: Air
    gas: WorkingGas
    air_fuel_ratio: float  # [-] mass of moist air over fuel, chemically correct


def vapour_of(fuel: Fuel) -> dict[str, float]:
    """Mole fractions of the species that stand for the fuel's vapour."""
    ethanol = min(max(fuel.oxygen_per_carbon / 0.5, 0.0), 1.0)  # share of carbon that comes in ethanol
    moles = {"C2H6O": ethanol / 2.0, "C8H18": (1.0 - ethanol) / 8.0}
    return {name: value for name, value in moles.items() if value > 0.0}


def burned_of(fuel: Fuel, lambda_: float, water: float) -> dict[str, float]:
    """Moles in the burned gas; `water` is vapour in the air for each mole of its nitrogen."""
    co2, h2o, co, h2, o2, n2 = burned_moles(lambda_, fuel.hydrogen_per_carbon, fuel.oxygen_per_carbon)
    argon = ARGON_SHARE * n2  # with all of it counted as N2 the gas constant would be 0.4 % too high
    moles = {"CO2": co2, "H2O": h2o + water * n2, "CO": co, "H2": h2, "O2": max(o2, 0.0)}
    return moles | {"N2": n2 - argon, "Ar": argon}


def charge_of(fuel: Fuel, air: Air | None) -> Charge:
    """Gas of `fuel` in `air` (None: reference air)."""
    air = air or REFERENCE_AIR
    share = vapour_pressure(air.temperature, air.humidity) / air.pressure
    moist = {name: x * (1.0 - share) for name, x in DRY_AIR.items()} | {"H2O": share}
    water = share / (moist["N2"] + moist["Ar"])
    ratio = fuel.stoichiometric_afr * (1.0 + humidity_ratio(air.temperature, air.pressure, air.humidity))
    gas = working_gas(
        air=moist,
        vapour=vapour_of(fuel),
        correct=burned_of(fuel, 1.0, water),
        rich=burned_of(fuel, RICH_LAMBDA, water),
        air_fuel_ratio=ratio,
    )
    return Charge(air=air, gas=gas, air_fuel_ratio=ratio)
