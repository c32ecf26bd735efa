r"""Air with water vapour in it.

Source   saturation: Hyland & Wexler, ASHRAE Trans. 89 (1983) 500, as in ASHRAE Fundamentals 2017,
         ch. 1 (constants from memory, agreed with an independent library); mixing of ideal gases.
Holds    -40 to 60 degC, density within 0.1 % (the ideal gas lies 0.04 % under real moist air).
"""

from __future__ import annotations

import math

R_DRY = 287.055  # [J/(kg K)]
WATER_TO_AIR = 0.621945  # [-] molar masses 18.015 / 28.966


def saturation_pressure(temperature: float) -> float:
    """Pressure of water vapour over water, over ice below 273.16 K. [Pa], temperature [K]"""
    t = temperature
    if t < 273.16:
        log = (
            -5.6745359e3 / t + 6.3925247 - 9.677843e-3 * t + 6.2215701e-7 * t**2
            + 2.0747825e-9 * t**3 - 9.484024e-13 * t**4 + 4.1635019 * math.log(t)
        )  # fmt: skip
    else:
        log = (
            -5.8002206e3 / t + 1.3914993 - 4.8640239e-2 * t + 4.1764768e-5 * t**2
            - 1.4452093e-8 * t**3 + 6.5459673 * math.log(t)
        )  # fmt: skip
    return math.exp(log)


def vapour_pressure(temperature: float, relative_humidity: float) -> float:
    """Partial pressure of the water vapour. [Pa], temperature [K], humidity 0 to 1"""
    return relative_humidity * saturation_pressure(temperature)


def dry_pressure(temperature: float, pressure: float, relative_humidity: float) -> float:
    """Pressure of the dry part: what power corrections count. [Pa]"""
    return pressure - vapour_pressure(temperature, relative_humidity)


def humidity_ratio(temperature: float, pressure: float, relative_humidity: float) -> float:
    """Mass of water over mass of dry air. [-]"""
    vapour = vapour_pressure(temperature, relative_humidity)
    return WATER_TO_AIR * vapour / (pressure - vapour)


def gas_constant(temperature: float, pressure: float, relative_humidity: float) -> float:
    """Gas constant of the moist air. [J/(kg K)]"""
    share = vapour_pressure(temperature, relative_humidity) / pressure
    return R_DRY / (1.0 - (1.0 - WATER_TO_AIR) * share)


def density(temperature: float, pressure: float, relative_humidity: float) -> float:
    """Density of the moist air. [kg/m3]"""
    return pressure / (gas_constant(temperature, pressure, relative_humidity) * temperature)
