r"""Air of the standard atmosphere at an altitude.

Source   ICAO Doc 7488: 288.15 K and 101325 Pa at sea level, 6.5 K less a kilometre.
Holds    -500 to 11000 m geopotential, dry.
"""

from __future__ import annotations

LAPSE = 0.0065  # [K/m]
R_AIR = 287.05287  # [J/(kg K)]
GRAVITY = 9.80665  # [m/s2]
SEA_TEMPERATURE, SEA_PRESSURE = 288.15, 101325.0


def temperature_at(altitude: float) -> float:
    """Temperature at a geopotential altitude [m]. [K]"""
    return SEA_TEMPERATURE - LAPSE * altitude


def pressure_at(altitude: float) -> float:
    """Pressure at a geopotential altitude [m]. [Pa]"""
    ratio = temperature_at(altitude) / SEA_TEMPERATURE
    return SEA_PRESSURE * ratio ** (GRAVITY / (LAPSE * R_AIR))
