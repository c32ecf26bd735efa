"""Handbook rules for tuned lengths: priors to compare with, never the model.

Source   named with each function, from memory. They disagree with each other by 10 to 20 % in rpm.
Holds    where the torque peaks, not where it sags; the 1-D model decides.
"""

from __future__ import annotations

import math


def primary_length_rule(exhaust_open_deg: float, rpm: float) -> float:
    """Exhaust primary for best torque at `rpm` (A. G. Bell): 850 ED / N - 3 inches. [m]

    exhaust_open_deg : 180 + degrees that the exhaust opens before bottom centre. The 3 in stand for
    the port.
    """
    return (850.0 * exhaust_open_deg / rpm - 3.0) * 0.0254


def round_trip_length(sound_speed: float, angle_deg: float, rpm: float) -> float:
    """Pipe whose echo is back after `angle_deg` crank degrees: c theta / (12 N). [m]"""
    return sound_speed * angle_deg / (12.0 * rpm)


def intake_helmholtz_rpm(
    area: float, length: float, swept: float, compression_ratio: float, sound_speed: float, k: float = 2.1
) -> float:
    """Speed of best intake ram (Engelman, ASME 73-WA/DGP-2), K = 2 to 2.5. [rpm]; area [m2], [m3]"""
    r = compression_ratio
    spring = 2.0 * area * (r - 1.0) / (length * swept * (r + 1.0))
    return 60.0 / k * sound_speed / (2.0 * math.pi) * math.sqrt(spring)


def quarter_wave_order(sound_speed: float, length: float, rpm: float) -> float:
    """Pipe's quarter-wave tone over the cycle rate (Broome 1969): best near 2.5, 3.5, 4.5. [-]"""
    return sound_speed / (4.0 * length) / (rpm / 120.0)


def inlet_mach_index(bore: float, valve_area_diameter: float, piston_speed: float, ci: float, a: float) -> float:
    """Z = (B/D)^2 Sp / (Ci a) (C. F. Taylor, vol. 1, ch. 6): filling falls past 0.5 to 0.6. [-]

    valve_area_diameter : diameter of one circle with the area of all inlet valves. [m]
    """
    return (bore / valve_area_diameter) ** 2 * piston_speed / (ci * a)


def residual_estimate(
    overlap_factor: float, rpm: float, intake: float, exhaust: float, phi: float, compression_ratio: float
) -> float:
    """Residual gas of an untuned engine (Fox, Cheng & Heywood, SAE 931025). [-] +/-20 %

    overlap_factor [deg/m]; intake and exhaust pressure [Pa]; phi = 1 / lambda.
    """
    ratio = intake / exhaust
    blow = abs(exhaust - intake) * 1e-5
    back = 1.266 * overlap_factor / (rpm / 60.0) * ratio**-0.87 * math.sqrt(blow)
    return back + 0.632 * phi * ratio**-0.74 / compression_ratio
