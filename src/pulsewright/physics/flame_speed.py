r"""Laminar burning velocity of fuel, air and residual gas.

.. math:: S = [B_M + B_2(\phi - \phi_M)^2] (T/298)^\alpha (p/1\,atm)^\beta\, d(f)

Source   Metghalchi & Keck, Combust. Flame 48 (1982) 191: alpha = 2.18 - 0.8(phi-1),
         beta = -0.16 + 0.22(phi-1), d = 1 - 2.1 f; Rhodes & Keck, SAE 850047 (1985), for petrol:
         alpha = 2.4 - 0.271 phi^3.51, beta = -0.357 + 0.14 phi^2.77, d = 1 - 2.06 x^0.77.
         Coefficients as in Heywood 1988, table 9.2, from memory.
Holds    phi 0.8 to 1.5, 298 to 700 K, 0.4 to 50 atm, f 0 to 0.2 (mass fraction), x to 0.3 (mole
         fraction), +/-10 % by the authors. Outside, phi is held at 0.6 to 1.7 and the speed never
         falls under a floor, so that a burn can be computed; that part is no published result.
"""

from __future__ import annotations

from pulsewright.physics.compiled import scalar

ATMOSPHERE = 101325.0  # [Pa]
FLOOR = 0.02  # [m/s] at 298 K and 1 atm, assumed

# B_M [m/s], B_2 [m/s], phi_M [-]
ISO_OCTANE = (0.2632, -0.8472, 1.13)
INDOLENE = (0.2758, -0.7834, 1.13)
PROPANE = (0.3422, -1.3865, 1.08)
METHANOL = (0.3692, -1.4051, 1.11)
GASOLINE = (0.305, -0.549, 1.21)  # Rhodes & Keck


@scalar
def metghalchi_keck(
    bm: float, b2: float, phi_best: float, phi: float, temperature: float, pressure: float, residual: float
) -> float:
    """Burning velocity with the general exponents. [m/s]

    bm, b2, phi_best : fuel's coefficients (e.g. INDOLENE); phi = 1 / lambda; unburned gas
    temperature [K] and pressure [Pa]; residual : burned-gas mass fraction [-].
    """
    rich = min(max(phi, 0.6), 1.7)
    base = max(bm + b2 * (rich - phi_best) ** 2, FLOOR)
    alpha = 2.18 - 0.8 * (rich - 1.0)
    beta = -0.16 + 0.22 * (rich - 1.0)
    dilution = max(1.0 - 2.1 * residual, 0.05)
    return base * (temperature / 298.0) ** alpha * (pressure / ATMOSPHERE) ** beta * dilution


@scalar
def gasoline_flame_speed(phi: float, temperature: float, pressure: float, residual_moles: float) -> float:
    """Burning velocity of petrol after Rhodes & Keck. [m/s]; residual_moles : mole fraction"""
    rich = min(max(phi, 0.6), 1.7)
    bm, b2, phi_best = GASOLINE
    base = max(bm + b2 * (rich - phi_best) ** 2, FLOOR)
    alpha = 2.4 - 0.271 * rich**3.51
    beta = -0.357 + 0.14 * rich**2.77
    dilution = max(1.0 - 2.06 * max(residual_moles, 0.0) ** 0.77, 0.05)
    return base * (temperature / 298.0) ** alpha * (pressure / ATMOSPHERE) ** beta * dilution
