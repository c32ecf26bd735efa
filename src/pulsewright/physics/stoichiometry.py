"""Air that a fuel of known atoms needs, by balance of atoms.

Source   atom balance; air with 3.773 parts atmospheric nitrogen (28.16 g/mol) a part oxygen, as in
         Heywood 1988, sect. 3.2.
Holds    exact for a given formula; pump petrol lies at 14.5 to 14.8.
"""

from __future__ import annotations

NITROGEN_PER_OXYGEN = 3.773  # [mol/mol] atmospheric nitrogen, argon with it
MASS_CARBON = 12.011e-3  # [kg/mol]
MASS_HYDROGEN = 1.008e-3
MASS_OXYGEN = 15.999e-3
MASS_NITROGEN_MIX = 28.16e-3  # atmospheric nitrogen


def fuel_mass_per_carbon(hydrogen_per_carbon: float, oxygen_per_carbon: float) -> float:
    """Mass of CHyOz per mole of carbon. [kg/mol]"""
    return MASS_CARBON + hydrogen_per_carbon * MASS_HYDROGEN + oxygen_per_carbon * MASS_OXYGEN


def oxygen_demand(hydrogen_per_carbon: float, oxygen_per_carbon: float) -> float:
    """Moles of O2 that burn one mole of carbon as CHyOz. [-]"""
    return 1.0 + 0.25 * hydrogen_per_carbon - 0.5 * oxygen_per_carbon


def stoichiometric_afr(hydrogen_per_carbon: float, oxygen_per_carbon: float) -> float:
    """Mass of dry air over mass of fuel at lambda 1. [-]"""
    air = 2.0 * MASS_OXYGEN + NITROGEN_PER_OXYGEN * MASS_NITROGEN_MIX
    need = oxygen_demand(hydrogen_per_carbon, oxygen_per_carbon)
    return need * air / fuel_mass_per_carbon(hydrogen_per_carbon, oxygen_per_carbon)
