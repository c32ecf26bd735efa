r"""Gas flow through a short restriction: valve gap, jet, plate, step, open end.

.. math:: \dot m = A \, \sqrt{\frac{2\gamma}{\gamma-1} p_0 \rho_0 \, (r^{2/\gamma} - r^{(\gamma+1)/\gamma})},
          \qquad r = \max(p/p_0, r_{sonic})

Source   A. de Saint-Venant and L. Wantzel (1839); NACA Report 1135 (1953), isentropic flow relations.
Holds    perfect gas, one direction, quasi-steady; gamma 1.1 to 1.67.
Not for  liquid jets (`jet_flow`) or passages long enough to hold a wave (a pipe).
"""

from __future__ import annotations

import math

from pulsewright.physics.compiled import scalar


@scalar
def sonic_pressure_ratio(gamma):
    """Static over stagnation pressure at the speed of sound. [-]"""
    return (2.0 / (gamma + 1.0)) ** (gamma / (gamma - 1.0))


@scalar
def restriction_mass_flow(effective_area, p_up, T_up, p_down, gamma, gas_constant):
    """Mass flow from the high-pressure side to the low. [kg/s]

    Parameters
    ----------
    effective_area : discharge coefficient times geometric area. [m²]
    p_up, T_up : stagnation state on the high side. [Pa], [K]
    p_down : static pressure on the low side, at most `p_up`. [Pa]
    gamma, gas_constant : ratio of heat capacities [-], gas constant [J/(kg K)]
    """
    ratio = max(p_down / p_up, sonic_pressure_ratio(gamma))
    root = ratio ** (1.0 / gamma)
    drive = 2.0 * gamma / (gamma - 1.0) * root * (root - ratio)
    return effective_area * p_up / math.sqrt(gas_constant * T_up) * math.sqrt(max(drive, 0.0))
