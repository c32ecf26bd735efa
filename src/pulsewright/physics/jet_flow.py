r"""Fuel through a jet.

.. math:: \dot m = C_d A \sqrt{2 \rho\, \Delta p}

Source   Bernoulli; discharge coefficient against Reynolds number: Lichtarowicz, Duggins & Markland,
         J. Mech. Eng. Sci. 7 (1965) 210 (from memory).
Holds    liquid, no vapour; the coefficient for bore length 1.5 to 10 diameters, Re 10 to 20000.
Not for  a bled jet's froth (use the gas and liquid flows together).
"""

from __future__ import annotations

import math

from pulsewright.physics.compiled import scalar

CD_SHARP = 0.62  # [-] 0.58 to 0.66, thin plate (from memory)
CD_CHAMFERED = 0.78  # [-] 0.70 to 0.85, chamfered short tube, the usual jet (from memory)


@scalar
def jet_mass_flow(cd: float, area: float, density: float, pressure_drop: float) -> float:
    """Mass flow with the sign of the pressure drop. [kg/s], area [m2], [kg/m3], [Pa]"""
    flow = cd * area * math.sqrt(2.0 * density * abs(pressure_drop))
    return flow if pressure_drop >= 0.0 else -flow


@scalar
def jet_reynolds(diameter: float, density: float, viscosity: float, pressure_drop: float) -> float:
    """Reynolds number of the ideal jet. [-]"""
    return diameter * math.sqrt(2.0 * density * abs(pressure_drop)) / viscosity


@scalar
def short_tube_cd(reynolds: float, length_ratio: float) -> float:
    """Discharge coefficient of a square-edged short tube; length over bore. [-]"""
    re = max(reynolds, 10.0)
    ultimate = 0.827 - 0.0085 * length_ratio
    swing = 1.0 + 7.5 * math.log10(0.00015 * re) ** 2
    inverse = 1.0 / ultimate + 20.0 / re * (1.0 + 2.25 * length_ratio) - 0.005 * length_ratio / swing
    return 1.0 / inverse


@scalar
def rejet_diameter_ratio(density_ratio: float) -> float:
    """Jet diameter for an unchanged mixture in air of another density (closed form). [-]

    A fixed venturi draws fuel as the square root of air density: diameter as its fourth root.
    """
    return density_ratio**0.25
