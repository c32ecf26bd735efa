r"""Effective flow area of a poppet valve: Cd on the curtain area pi D L.

Source   bands of Cd against lift / diameter after Annand & Roe, Gas Flow in the Internal Combustion
         Engine (1974) and Heywood 1988, ch. 6 (from memory); the middle of the band is used.
Holds    +/-15 %. Beyond L/D 0.30 the effective area stays: the throat governs (closed form: curtain =
         head area at L = D/4).
"""

from __future__ import annotations

import math

from pulsewright.physics.compiled import scalar

# L/D 0.05 to 0.30 by 0.05
CD_INLET = (0.66, 0.65, 0.625, 0.58, 0.52, 0.46)
CD_EXHAUST = (0.665, 0.66, 0.635, 0.59, 0.535, 0.48)
CD_INLET_LOW = (0.60, 0.60, 0.57, 0.52, 0.46, 0.40)
CD_INLET_HIGH = (0.72, 0.70, 0.68, 0.64, 0.58, 0.52)
CD_EXHAUST_LOW = (0.58, 0.58, 0.55, 0.50, 0.45, 0.40)
CD_EXHAUST_HIGH = (0.75, 0.74, 0.72, 0.68, 0.62, 0.56)
HIGHEST_RATIO = 0.30


@scalar
def discharge(table: tuple[float, float, float, float, float, float], lift_ratio: float) -> float:
    """Coefficient on the curtain area, linear in the table, held at its ends. [-]"""
    place = min(max(lift_ratio / 0.05 - 1.0, 0.0), 5.0)
    k = min(int(place), 4)
    return table[k] + (place - k) * (table[k + 1] - table[k])


@scalar
def inlet_area(lift: float, diameter: float, throat_area: float) -> float:
    """Effective area of one inlet valve, at most the throat's. [m2], lift, diameter [m], [m2]"""
    open_lift = min(max(lift, 0.0), HIGHEST_RATIO * diameter)
    area = discharge(CD_INLET, open_lift / diameter) * math.pi * diameter * open_lift
    return min(area, throat_area)


@scalar
def exhaust_area(lift: float, diameter: float, throat_area: float) -> float:
    """Effective area of one exhaust valve, at most the throat's. [m2], lift, diameter [m], [m2]"""
    open_lift = min(max(lift, 0.0), HIGHEST_RATIO * diameter)
    area = discharge(CD_EXHAUST, open_lift / diameter) * math.pi * diameter * open_lift
    return min(area, throat_area)
