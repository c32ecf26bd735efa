r"""Loss of total pressure where the bore steps: dp = K rho U^2 / 2, U named with each function.

Source   sudden expansion: Borda-Carnot (momentum balance); contraction and sharp orifice: Idelchik,
         Handbook of Hydraulic Resistance, forms from memory, within 16-35 % of another handbook
         for the contraction and 10 % for the orifice; contracted jet: Weisbach 1855 (from memory).
Holds    steady, nearly incompressible flow at high Reynolds number; area ratio small over large.
"""

from __future__ import annotations

import math

from pulsewright.physics.compiled import scalar


@scalar
def sudden_expansion(area_ratio: float) -> float:
    """Borda-Carnot loss on the velocity in the small pipe; area_ratio = small / large. [-]"""
    return (1.0 - area_ratio) ** 2


@scalar
def sudden_contraction(area_ratio: float) -> float:
    """Loss of a sharp-edged contraction on the velocity in the small pipe (Idelchik). [-]"""
    return 0.5 * max(1.0 - area_ratio, 0.0) ** 0.75


@scalar
def sharp_orifice(open_fraction: float) -> float:
    """Loss of a thin sharp plate with one or many holes, on the pipe velocity (Idelchik). [-]

    open_fraction = open area / pipe area, above 0 and at most 1.
    """
    s = open_fraction
    root = 1.0 - s + 0.707 * math.sqrt(max(1.0 - s, 0.0))
    return (root / s) ** 2


@scalar
def jet_contraction(open_fraction: float) -> float:
    """Area of the contracted jet over the area of a sharp opening in a pipe (Weisbach). [-]"""
    return 0.62 + 0.38 * open_fraction**3


@scalar
def jet_loss(open_fraction: float) -> float:
    """Loss of a sharp opening from its contracted jet, on the pipe velocity (Weisbach). [-]"""
    return (1.0 / (jet_contraction(open_fraction) * open_fraction) - 1.0) ** 2


@scalar
def open_fraction_of_loss(loss: float) -> float:
    """Open fraction of the sharp orifice that has the loss K on the pipe velocity (inverse). [-]"""
    low, high = 1e-6, 1.0
    for _ in range(50):
        middle = 0.5 * (low + high)
        if sharp_orifice(middle) > loss:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
