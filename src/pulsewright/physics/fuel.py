"""Liquid fuels: petrol, ethanol and their blends by volume.

Source   petrol: EN 228 density band 720-775 kg/m3 at 15 degC, heating value 42-44 MJ/kg, latent heat
         300-380 kJ/kg; ethanol: 789 kg/m3 at 20 degC, 26.8 MJ/kg, about 840 kJ/kg; thermal slope
         -0.0012 a kelvin (all from memory of handbooks). Air demand by atom balance.
Holds    middle of the bands; a pump fuel is what it is that day. Blends mix by mass, octane (research)
         is the usual number on the pump (common practice, no published source).
"""

from __future__ import annotations

from typing import NamedTuple

from pulsewright.physics.stoichiometry import fuel_mass_per_carbon, stoichiometric_afr

PETROL_DENSITY = 745.0  # [kg/m3] 15 degC
ETHANOL_DENSITY = 793.0  # [kg/m3] 15 degC
DENSITY_SLOPE = -0.0012  # [1/K] relative
ETHANOL_SHARE = {"petrol": 0.0, "E5": 0.05, "E10": 0.10, "E15": 0.15, "E85": 0.85, "ethanol": 1.0}


class LiquidFuel(NamedTuple):
    """What the model needs of a fuel, SI."""

    stoichiometric_afr: float  # [-]
    density: float  # [kg/m3] 15 degC
    heating_value: float  # [J/kg] lower
    latent_heat: float  # [J/kg]
    hydrogen_per_carbon: float  # [-]
    oxygen_per_carbon: float  # [-]
    octane: float  # [-] research


def blend(ethanol_share: float) -> LiquidFuel:
    """Petrol (CH1.87) with a volume share of ethanol, 0 to 1."""
    mass = ethanol_share * ETHANOL_DENSITY / (ethanol_share * ETHANOL_DENSITY + (1.0 - ethanol_share) * PETROL_DENSITY)
    petrol = (1.0 - mass) / fuel_mass_per_carbon(1.87, 0.0)  # moles of carbon a kilogram
    ethanol = mass / fuel_mass_per_carbon(3.0, 0.5)
    y = (1.87 * petrol + 3.0 * ethanol) / (petrol + ethanol)
    z = 0.5 * ethanol / (petrol + ethanol)
    return LiquidFuel(
        stoichiometric_afr=stoichiometric_afr(y, z),
        density=ethanol_share * ETHANOL_DENSITY + (1.0 - ethanol_share) * PETROL_DENSITY,
        heating_value=(1.0 - mass) * 43.0e6 + mass * 26.8e6,
        latent_heat=(1.0 - mass) * 340e3 + mass * 840e3,
        hydrogen_per_carbon=y,
        oxygen_per_carbon=z,
        octane=95.0 + 13.0 * max(ethanol_share - 0.15, 0.0) / 0.85,  # refiners spend the gain below 15 %
    )


def named_fuel(kind: str) -> LiquidFuel:
    """Properties of "petrol", "E5", "E10", "E15", "E85" or "ethanol"; KeyError for other names."""
    return blend(ETHANOL_SHARE[kind])


def density_at(density_15: float, temperature: float) -> float:
    """Density at a temperature [K] from that at 15 degC. [kg/m3]"""
    return density_15 * (1.0 + DENSITY_SLOPE * (temperature - 288.15))
