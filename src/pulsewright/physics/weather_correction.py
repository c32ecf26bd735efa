"""Factors that carry measured torque to standard weather. Corrected = factor * measured.

Source   SAE J1349 (spark ignition, mechanical efficiency 0.85: seen in secondary pages), ISO 1585 and
         UNECE R85 (from memory), SAE J607 "STD" style and DIN 70020 (secondary pages). The standards
         themselves were not seen. Their own rounding of absolute zero (273, 298, 293) is kept.
Holds    full throttle, sound mixture. No factor repairs a mixture that the weather has changed.
"""

from __future__ import annotations

from collections.abc import Callable

ROUNDED_ZERO = 273.0  # [K] at 0 degC, as the formulas write it


def _formula_kelvin(temperature: float) -> float:
    return temperature - 273.15 + ROUNDED_ZERO


def j1349_indicated(temperature: float, dry_pressure: float) -> float:
    """Factor of SAE J1349 on indicated power. [-], temperature [K], dry pressure [Pa]"""
    return 99.0e3 / dry_pressure * (_formula_kelvin(temperature) / 298.0) ** 0.5


def j1349(temperature: float, dry_pressure: float) -> float:
    """SAE J1349 on brake power with its engine efficiency of 0.85 (1.180 ca - 0.18). [-]"""
    return 1.18 * j1349_indicated(temperature, dry_pressure) - 0.18


def brake_factor(indicated_factor: float, mechanical_efficiency: float) -> float:
    """Factor on brake power for an engine of known mechanical efficiency (not the driveline's). [-]"""
    lost = 1.0 - mechanical_efficiency
    return (indicated_factor - lost) / mechanical_efficiency


def iso1585(temperature: float, dry_pressure: float) -> float:
    """ISO 1585, UNECE R85, spark ignition. [-]"""
    return (99.0e3 / dry_pressure) ** 1.2 * (_formula_kelvin(temperature) / 298.0) ** 0.6


def std(temperature: float, dry_pressure: float) -> float:
    """The "STD" style: 29.92 inHg dry, 60 degF. About 4 % above J1349. [-]"""
    return 101.325e3 / dry_pressure * (temperature / 288.70556) ** 0.5


def din70020(temperature: float, barometric_pressure: float) -> float:
    """DIN 70020: 1013 hPa barometric (moist), 20 degC. [-]"""
    return 101.3e3 / barometric_pressure * (_formula_kelvin(temperature) / 293.0) ** 0.5


FACTORS: dict[str, Callable[[float, float], float]] = {
    "J1349": j1349,
    "ISO1585": iso1585,
    "STD": std,
    "DIN70020": din70020,
}


def correction(standard: str, temperature: float, pressure: float, vapour_pressure: float) -> float:
    """Factor by name ("J1349", "ISO1585", "STD", "DIN70020"). [-]

    temperature [K]; barometric pressure and vapour pressure [Pa]. KeyError for other names.
    """
    counted = pressure if standard == "DIN70020" else pressure - vapour_pressure
    return FACTORS[standard](temperature, counted)


def doubts(standard: str, temperature: float, pressure: float, vapour_pressure: float) -> tuple[str, ...]:
    """Warnings where a factor is stretched past its recalled limits; empty when it is not."""
    celsius, dry = temperature - 273.15, pressure - vapour_pressure
    found = []
    factor = correction(standard, temperature, pressure, vapour_pressure)
    if standard == "J1349" and not 15.0 <= celsius <= 35.0:
        found.append(f"{celsius:.0f} degC is outside 15 to 35 degC, the range recalled for J1349")
    if standard == "J1349" and not 90e3 <= dry <= 105e3:
        found.append(f"{dry / 1e3:.1f} kPa dry is outside 90 to 105 kPa, the range recalled for J1349")
    if standard == "ISO1585" and not 0.93 <= factor <= 1.07:
        found.append(f"factor {factor:.3f} is outside 0.93 to 1.07: state temperature and pressure")
    return tuple(found)
