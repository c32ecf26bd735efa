r"""Steady flow of a perfect gas in a duct, as formulas: what the marched duct is held against.

Source   NACA Report 1135 (1953); Anderson, Modern Compressible Flow, chapters 3 and 5 (from memory).
Holds    constant gamma, one dimension.
"""

from __future__ import annotations

import math


def total_pressure_ratio(mach: float, gamma: float) -> float:
    """Stagnation over static pressure. [-]"""
    return (1.0 + 0.5 * (gamma - 1.0) * mach**2) ** (gamma / (gamma - 1.0))


def total_temperature_ratio(mach: float, gamma: float) -> float:
    """Stagnation over static temperature. [-]"""
    return 1.0 + 0.5 * (gamma - 1.0) * mach**2


def area_ratio(mach: float, gamma: float) -> float:
    """Area over sonic area. [-]"""
    power = 0.5 * (gamma + 1.0) / (gamma - 1.0)
    return (2.0 / (gamma + 1.0) * total_temperature_ratio(mach, gamma)) ** power / mach


def heated_mach(mach: float, total_temperature_rise: float, gamma: float) -> float:
    """Subsonic Mach number after the stagnation temperature has grown by a factor (Rayleigh flow)."""

    def heat(m: float) -> float:
        return m**2 * (2.0 + (gamma - 1.0) * m**2) / (1.0 + gamma * m**2) ** 2

    wanted = heat(mach) * total_temperature_rise
    low, high = 0.0, 1.0
    for _ in range(100):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if heat(middle) < wanted else (low, middle)
    return 0.5 * (low + high)


def heated_pressure(before: float, after: float, gamma: float) -> float:
    """Static pressure after over before heating between two Mach numbers (Rayleigh flow). [-]"""
    return (1.0 + gamma * before**2) / (1.0 + gamma * after**2)


def exit_mach_behind_shock(pressure_ratio: float, exit_over_throat: float, gamma: float) -> float:
    """Mach number at the exit of a choked nozzle with a shock inside; exit over upstream total pressure."""
    g = gamma - 1.0
    choked = (2.0 / (gamma + 1.0)) ** ((gamma + 1.0) / g) / (pressure_ratio * exit_over_throat) ** 2
    return math.sqrt((-1.0 + math.sqrt(1.0 + 2.0 * g * choked)) / g)


def shock_mach(total_pressure_kept: float, gamma: float) -> float:
    """Mach number before a normal shock that leaves this share of the stagnation pressure."""

    def kept(m: float) -> float:
        a = ((gamma + 1.0) * m**2 / ((gamma - 1.0) * m**2 + 2.0)) ** (gamma / (gamma - 1.0))
        return a * ((gamma + 1.0) / (2.0 * gamma * m**2 - (gamma - 1.0))) ** (1.0 / (gamma - 1.0))

    low, high = 1.0, 10.0
    for _ in range(100):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if kept(middle) > total_pressure_kept else (low, middle)
    return 0.5 * (low + high)
