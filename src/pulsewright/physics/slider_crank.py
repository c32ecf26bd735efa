r"""Volume above a piston on a crank, and how fast it grows.

Source   kinematics of the centric slider-crank; any text, e.g. Heywood 1988, sect. 2.2.
Holds    no pin offset, rigid parts. Angles in crank degrees after top dead centre.
"""

from __future__ import annotations

import math

from pulsewright.physics.compiled import scalar


@scalar
def within_cycle(angle_deg: float) -> float:
    """A crank angle less than one cycle outside 0 to 720, brought inside. [deg]"""
    turned = angle_deg - 720.0 if angle_deg >= 720.0 else angle_deg
    return turned + 720.0 if turned < 0.0 else turned


@scalar
def piston_travel(angle_deg: float, stroke: float, rod: float) -> float:
    """Way of the piston below top dead centre. [m]"""
    crank = 0.5 * stroke
    up = crank * math.cos(math.radians(angle_deg))
    return rod + crank - up - math.sqrt(rod * rod - (crank * crank - up * up))


@scalar
def travel_per_degree(angle_deg: float, stroke: float, rod: float) -> float:
    """Derivative of the piston travel. [m/deg]"""
    t = math.radians(angle_deg)
    crank = 0.5 * stroke
    side = crank * math.sin(t)
    lean = crank * math.cos(t) / math.sqrt(rod * rod - side * side)
    return side * (1.0 + lean) * math.pi / 180.0


@scalar
def swept_volume(bore: float, stroke: float) -> float:
    """Displacement of one cylinder. [m3]"""
    return 0.25 * math.pi * bore * bore * stroke


@scalar
def clearance_volume(bore: float, stroke: float, compression_ratio: float) -> float:
    """Volume left at top dead centre. [m3]"""
    return swept_volume(bore, stroke) / (compression_ratio - 1.0)


@scalar
def cylinder_volume(angle_deg: float, bore: float, stroke: float, rod: float, compression_ratio: float) -> float:
    """Gas volume in the cylinder. [m3]"""
    area = 0.25 * math.pi * bore * bore
    clearance = clearance_volume(bore, stroke, compression_ratio)
    return clearance + area * piston_travel(angle_deg, stroke, rod)


@scalar
def volume_per_degree(angle_deg: float, bore: float, stroke: float, rod: float) -> float:
    """Derivative of the gas volume. [m3/deg]"""
    return 0.25 * math.pi * bore * bore * travel_per_degree(angle_deg, stroke, rod)


@scalar
def chamber_area(volume: float, bore: float) -> float:
    """Wall area that a gas volume [m3] touches: piston, head (1.1 times flat, assumed) and liner. [m2]"""
    return 2.1 * 0.25 * math.pi * bore * bore + 4.0 * volume / bore


@scalar
def mean_piston_speed(stroke: float, rpm: float) -> float:
    """Mean piston speed. [m/s]"""
    return 2.0 * stroke * rpm / 60.0
