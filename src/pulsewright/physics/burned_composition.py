r"""Burned gas of a CHyOz fuel, lean or rich, and the heat that rich burning leaves unreleased.

Lean: CO2, H2O, O2, N2. Rich: CO and H2 share the lack of oxygen by the water-gas constant
:math:`K = x_{CO} x_{H_2O} / (x_{CO_2} x_{H_2})`, frozen at 3.58 (its value at 1740 K).

Source   atom balance, Heywood 1988, sect. 4.9; K from a chemical equilibrium library (Cantera).
Holds    lambda 0.55 upwards: below about 0.5 there is not oxygen enough for CO and soot forms, so
         lambda is held there. Mole fractions within 0.003 of frozen equilibrium.
"""

from __future__ import annotations

import math

from pulsewright.physics.compiled import scalar

WATER_GAS = 3.58  # [-] at 1740 K
NITROGEN_PER_OXYGEN = 3.773  # [mol/mol]
HEAT_CO = 282.98e3  # [J/mol] CO + 1/2 O2, 298 K
HEAT_H2 = 241.83e3  # [J/mol] H2 + 1/2 O2 to vapour, 298 K
RICHEST = 0.50  # lambda
ARGON_SHARE = 0.0122  # [-] of the atmospheric nitrogen, so that the mix weighs 28.16 g/mol


@scalar
def burned_moles(lambda_: float, y: float, z: float) -> tuple[float, float, float, float, float, float]:
    """Moles of CO2, H2O, CO, H2, O2, N2 (argon with it) per mole of carbon of CHyOz. [-]"""
    rich = max(lambda_, RICHEST)
    oxygen = rich * (1.0 + 0.25 * y - 0.5 * z)  # O2 supplied
    nitrogen = NITROGEN_PER_OXYGEN * oxygen
    if lambda_ >= 1.0:
        return 1.0, 0.5 * y, 0.0, 0.0, oxygen - (1.0 + 0.25 * y - 0.5 * z), nitrogen
    short = (2.0 + 0.5 * y) - (2.0 * oxygen + z)  # oxygen atoms missing = CO + H2
    # K (1 - c)(short - c) = c (y/2 - short + c), a quadratic in c = moles of CO
    qa = WATER_GAS - 1.0
    qb = -(WATER_GAS * (1.0 + short) + 0.5 * y - short)
    qc = WATER_GAS * short
    root = math.sqrt(max(qb * qb - 4.0 * qa * qc, 0.0))
    co = 2.0 * qc / (-qb + root)
    co = min(max(co, 0.0), 1.0)
    return 1.0 - co, 0.5 * y - short + co, co, short - co, 0.0, nitrogen


@scalar
def burned_fractions(lambda_: float, y: float, z: float) -> tuple[float, float, float, float, float, float]:
    """Mole fractions of CO2, H2O, CO, H2, O2, N2 in the burned gas of CHyOz. [-]"""
    co2, h2o, co, h2, o2, n2 = burned_moles(lambda_, y, z)
    total = co2 + h2o + co + h2 + o2 + n2
    return co2 / total, h2o / total, co / total, h2 / total, o2 / total, n2 / total


@scalar
def released_heat_fraction(lambda_: float, y: float, z: float, heating_value: float) -> float:
    """Heat released over heating_value times fuel mass; the rest leaves in CO and H2. [-]

    heating_value : lower heating value of the fuel. [J/kg]
    """
    _, _, co, h2, _, _ = burned_moles(lambda_, y, z)
    mass = (12.011 + 1.008 * y + 15.999 * z) * 1e-3  # [kg per mole carbon]
    return 1.0 - (co * HEAT_CO + h2 * HEAT_H2) / (heating_value * mass)


def burned_species(lambda_: float, y: float, z: float) -> dict[str, float]:
    """Mole fractions by species name, atmospheric nitrogen parted into N2 and Ar. [-]

    Without its argon the nitrogen is too light and the gas constant 0.4 % too high.
    """
    co2, h2o, co, h2, o2, nitrogen = burned_fractions(lambda_, y, z)
    argon = ARGON_SHARE * nitrogen
    parts = {"CO2": co2, "H2O": h2o, "CO": co, "H2": h2, "O2": o2, "N2": nitrogen - argon, "Ar": argon}
    return {name: x for name, x in parts.items() if x > 0.0}
