r"""Small sound waves in simple mufflers, as formulas: what the time-domain solver is held against.

Each piece is a 2 x 2 matrix between (p, rho c u S) at its two ends; pieces in a row multiply. The
transmission loss is the ratio of the wave that arrives to the wave that leaves into an endless pipe.

Source   Munjal, Acoustics of Ducts and Mufflers, ch. 2 (from memory); continuity of pressure and flow.
Holds    plane waves, no mean flow but for the plate and the perforated tube, no losses on the walls.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

Matrix = npt.NDArray[np.complex128]


def tube(wave_number: float, length: float, area: float) -> Matrix:
    """A straight pipe. wave number [1/m], length [m], area [m2]"""
    c, s = math.cos(wave_number * length), math.sin(wave_number * length)
    return np.array([[c, 1j * s / area], [1j * s * area, c]])


def side_branch(admittance: complex) -> Matrix:
    """Something beside the pipe; admittance times rho c. [m2]"""
    return np.array([[1.0, 0.0], [admittance, 1.0]], dtype=np.complex128)


def closed_tube(wave_number: float, length: float, area: float) -> complex:
    """Admittance of a closed side pipe, times rho c. [m2]"""
    return 1j * area * math.tan(wave_number * length)


def resonator(wave_number: float, volume: float, neck_length: float, neck_area: float) -> complex:
    """Admittance of a volume [m3] behind a neck, times rho c. [m2]"""
    impedance = 1j * wave_number * neck_length / neck_area + 1.0 / (1j * wave_number * volume)
    return 1.0 / impedance


def perforated_tube(
    wave_number: float, length: float, core: float, room: float, holes: float, drag: float, mach: float = 0.0
) -> Matrix:
    """A tube with a room around it, both carrying plane waves, joined through holes; the room is closed at its ends.

    core, room : cross-sections [m2]; holes : admittance of the wall over a metre, times rho c [m]; drag : pressure
    that the room's packing takes over a metre at a metre a second, over rho c [1/m]; mach : of the stream in the tube.
    Source   Sullivan & Crocker, J. Acoust. Soc. Am. 64 (1978) 207, Munjal ch. 3 (from memory); packing as a drag on
             the flow along the room.
    """
    ik = 1j * wave_number
    change = np.array(
        [
            [0.0, -ik / core, 0.0, 0.0],
            [-ik * core - holes, 0.0, holes, 0.0],
            [0.0, 0.0, 0.0, -(ik + drag) / room],
            [holes, 0.0, -ik * room - holes, 0.0],
        ]
    )
    stream = np.eye(4)
    stream[0, 1], stream[1, 0] = mach / core, mach * core
    change = np.linalg.solve(stream, change)
    rates, shapes = (np.asarray(part, dtype=np.complex128) for part in np.linalg.eig(change))
    from_end = np.real(rates) > 0.0  # each mode is counted from the end where it is strongest
    here = shapes * np.where(from_end, np.exp(-rates * length), 1.0)
    there = shapes * np.where(from_end, 1.0, np.exp(rates * length))
    closed_and_known = np.array([here[3], there[3], there[0], there[1]])
    return np.asarray(here[:2] @ np.linalg.solve(closed_and_known, np.eye(4)[:, 2:]), dtype=np.complex128)


def transmission_loss(matrix: Matrix, area: float) -> float:
    """Loss between pipes of the same area [m2] on both sides. [dB]"""
    total = matrix[0, 0] + matrix[0, 1] * area + matrix[1, 0] / area + matrix[1, 1]
    return 20.0 * math.log10(abs(total) / 2.0)


def chamber_loss(area_ratio: float, wave_number_times_length: float) -> float:
    """Transmission loss of a simple expansion chamber, closed form. [dB]"""
    swing = 0.5 * (area_ratio - 1.0 / area_ratio) * math.sin(wave_number_times_length)
    return 10.0 * math.log10(1.0 + swing * swing)


def step_reflection(area_ratio: float) -> float:
    """Pressure reflected at a step from area 1 to `area_ratio`. [-]"""
    return (1.0 - area_ratio) / (1.0 + area_ratio)


def branch_reflection(area_ratio: float) -> float:
    """Pressure reflected where an endless branch of area `area_ratio` leaves a pipe of area 1. [-]"""
    return -area_ratio / (2.0 + area_ratio)


def plate_reflection(loss: float, mach: float) -> float:
    """Pressure reflected by a lossy plate (loss coefficient K) in mean flow, resistance K M. [-]"""
    return loss * mach / (2.0 + loss * mach)
