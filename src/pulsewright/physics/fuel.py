"""Liquid fuel: how its density falls with heat. What a fuel is made of stands on the sheet (bench).

Source   relative slope -0.0012 a kelvin for petrol (from memory of handbooks).
Holds    petrol and its blends near room temperature.
"""

from __future__ import annotations

DENSITY_SLOPE = -0.0012  # [1/K] relative


def density_at(density_15: float, temperature: float) -> float:
    """Density at a temperature [K] from that at 15 degC. [kg/m3]"""
    return density_15 * (1.0 + DENSITY_SLOPE * (temperature - 288.15))
