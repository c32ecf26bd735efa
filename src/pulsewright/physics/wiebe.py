r"""Burned fraction over the burn, an S-curve with two numbers.

.. math:: x = 1 - \exp\left[-a\left(\frac{\theta - \theta_0}{\Delta\theta}\right)^{m+1}\right]

Source   I. Wiebe 1970; Heywood 1988, ch. 9 (a = 5, m = 2 usual). a = 6.908 closes at 99.9 %.
Holds    one flame, one start; knock and misfire are not in it.
"""

from __future__ import annotations

import math

from pulsewright.physics.compiled import scalar

A_999 = 6.908  # [-] 99.9 % burned at the end (closed form: -ln 0.001)
M_USUAL = 2.0  # [-] from memory, 1.5 to 2.5


@scalar
def burned_fraction(angle_deg: float, start_deg: float, duration_deg: float, a: float, m: float) -> float:
    """Fraction burned at an angle. [-]"""
    x = (angle_deg - start_deg) / duration_deg
    x = min(max(x, 0.0), 4.0)
    return 1.0 - math.exp(-a * x * x**m)  # a compiler takes the usual square as a product, not the cube


@scalar
def burn_rate(angle_deg: float, start_deg: float, duration_deg: float, a: float, m: float) -> float:
    """Fraction burned per crank degree. [1/deg]"""
    x = (angle_deg - start_deg) / duration_deg
    x = min(max(x, 0.0), 4.0)
    return a * (m + 1.0) / duration_deg * x**m * math.exp(-a * x ** (m + 1.0))


@scalar
def angle_of_fraction(fraction: float, start_deg: float, duration_deg: float, a: float, m: float) -> float:
    """Angle at which a fraction (0 to below 1) has burned. [deg]"""
    return start_deg + duration_deg * (-math.log(1.0 - fraction) / a) ** (1.0 / (m + 1.0))
