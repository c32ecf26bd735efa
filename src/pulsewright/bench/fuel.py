"""What is in the bowl."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Fuel:
    """A liquid fuel."""

    kind: str  # "petrol", "E5", "E10", "E85", "ethanol", "custom"
    stoichiometric_afr: float  # [-] mass of dry air over mass of fuel
    density: float  # [kg/m³] at 15 degC
    heating_value: float  # [J/kg] lower
    latent_heat: float  # [J/kg]
    hydrogen_per_carbon: float  # [-] atoms
    oxygen_per_carbon: float  # [-] atoms
    octane: float  # [-] research octane number
