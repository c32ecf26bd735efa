"""How hard it is to push gas through the packing of a muffler, out of the holes and along.

Source   flow resistivity of glass-fibre roving as mufflers are filled: 4 900 Pa s/m2 at 100 kg/m3 and 17 400 at 200
         (A. Selamet, M. B. Xu, I.-J. Lee and N. T. Huff, papers on dissipative silencers 2004-2006, from memory), so
         the power 1.83 of the density. Flow from a hole into a porous half-space: mean pressure of a disc,
         0.85 radii (Rayleigh's end correction), less for neighbours by 1 - 1.47 s^0.5 + 0.47 s^1.5 (from memory).
         Resistance goes with the gas's viscosity (Darcy).
Holds    slow flow, rooms that are thin beside the wave: the resistance is that of low frequencies.
"""

from __future__ import annotations

import math

from pulsewright.physics.viscosity import viscosity

RESISTIVITY = 9200.0  # [Pa s/m2] at 150 kg/m3 and room temperature, between the two published values
DENSITY_POWER = 1.83  # [-]
PACKING_TEMPERATURE = 700.0  # [K] between gas and body, assumed
HOLE = 3.0e-3  # [m] bore of a hole, assumed
# Gas among fibres is held at their temperature: its spring is that of p, not gamma p. What the fibres leave of the
# room, 0.94 at 150 kg/m3 of glass (2 500 kg/m3), times gamma of hot exhaust gas, 1.32.
SOFTER_SPRING = 1.24


def resistivity(fibre_left: float) -> float:
    """Pressure that gas of `PACKING_TEMPERATURE` loses over a metre at a metre a second. [Pa s/m2]

    fibre_left : share of the packing that is still there. [-]
    """
    hot = viscosity(PACKING_TEMPERATURE) / viscosity(293.15)
    return RESISTIVITY * hot * fibre_left**DENSITY_POWER


def way_through(core_bore: float, outer_bore: float, open_share: float) -> float:
    """Length of packing, at the speed in the holes, that flow from a perforated core into its room meets. [m]

    The room fills evenly: speed falls with the radius and by what is left behind.
    """
    a, b = 0.5 * core_bore, 0.5 * outer_bore
    filled = b**4 * math.log(b / a) - b * b * (b * b - a * a) + 0.25 * (b**4 - a**4)
    spread = 0.85 * 0.5 * HOLE * (1.0 - 1.47 * open_share**0.5 + 0.47 * open_share**1.5)
    return open_share * a * filled / (b * b - a * a) ** 2 + spread


def softer_spring(fibre_left: float) -> float:
    """Room that the gas seems to have, over what it has. [-]"""
    return SOFTER_SPRING if fibre_left > 0.0 else 1.0
