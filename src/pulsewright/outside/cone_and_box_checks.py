r"""Standing waves in closed cones, a megaphone with its reverse cone, and a box that breathes through its mouth.

Source   spherical waves in a truncated cone between x1 and x2 from its apex, closed at both ends,
         :math:`\tan kL = kL / (1 + k^2 x_1 x_2)`; two of them mouth to mouth by continuity of pressure and flow:
         N. H. Fletcher & T. D. Rossing, The Physics of Musical Instruments (1991), chapter 8 (from memory).
         Box: Helmholtz's resonator, :math:`f = \frac{c}{2\pi}\sqrt{A/(V L')}`, with both ends of the neck corrected
         (0.61 of the radius unflanged, 0.85 flanged: Levine & Schwinger 1948, Rayleigh).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np
from scipy.optimize import brentq

from pulsewright.network.assembly import DuctRef, area_of
from pulsewright.outside.acoustic_rig import GAMMA, PRESSURE, SOUND_SPEED
from pulsewright.outside.check import Check, worst
from pulsewright.outside.tube_rig import Rig

CONES = "tan kL = kL / (1 + k^2 x1 x2): Fletcher & Rossing 1991 (from memory)"
PAIR = "the same waves on both sides, pressure and flow alike where they meet"
HELMHOLTZ = "f = c/(2 pi) (A / (V L'))^0.5, L' with 0.61 and 0 radii: Helmholtz; Levine & Schwinger 1948"
GAS_CONSTANT = 287.0
TEMPERATURE = SOUND_SPEED**2 / (GAMMA * GAS_CONSTANT)
CELLS = 120
# (length, bore in, bore out) [m]: a megaphone, a short steep cone, a reverse cone
MEGAPHONE, STEEP, REVERSE = (0.500, 0.042, 0.090), (0.300, 0.030, 0.090), (0.250, 0.060, 0.043)
MODES = (1, 2, 3)


def checks() -> Iterator[Check]:
    """Cones closed at both ends, megaphone with reverse cone, airbox."""
    rows = [
        (f"{1e3 * bore_in:g} to {1e3 * bore_out:g} mm, mode {mode}", cone_tone(length, bore_in, bore_out, mode), got)
        for length, bore_in, bore_out in (MEGAPHONE, STEEP, REVERSE)
        for mode in MODES
        for got in [marched([(length, bore_in, bore_out)], cone_tone(length, bore_in, bore_out, mode))]
    ]
    yield worst("marched closed cone: tones", CONES, rows, 0.005)
    pair = [(0.300, 0.042, 0.080), (0.120, 0.080, 0.042)]
    rows = [(f"mode {mode}", expected, marched(pair, expected)) for mode, expected in enumerate(pair_tones(pair, 3), 1)]
    yield worst("marched megaphone with reverse cone: tones", PAIR, rows, 0.005)
    rows = [
        (f"{1e3 * volume:g} l through {1e3 * bore:g} mm", box_tone(volume, bore, length), box(volume, bore, length))
        for volume, bore, length in ((0.006, 0.050, 0.100), (0.003, 0.040, 0.060), (0.010, 0.045, 0.150))
    ]
    yield worst("marched airbox: its own tone", HELMHOLTZ, rows, 0.03)


# ---- cones ----------------------------------------------------------------------------------------------


def apex(length: float, bore_in: float, bore_out: float) -> tuple[float, float]:
    """Distances of both ends from the apex, along the cone's own way; negative where it narrows. [m]"""
    slope = (bore_out - bore_in) / length
    return bore_in / slope, bore_out / slope


def cone_tone(length: float, bore_in: float, bore_out: float, mode: int) -> float:
    """Frequency of a mode of a truncated cone that is closed at both ends. [Hz]"""
    x1, x2 = apex(length, bore_in, bore_out)

    def off(k: float) -> float:
        return math.sin(k * length) * (1.0 + k * k * x1 * x2) - k * length * math.cos(k * length)

    return _root(off, mode, length)


def pair_tones(pieces: list[tuple[float, float, float]], count: int) -> list[float]:
    """Frequencies of cones laid end to end and closed at both, by marching the closed form through each. [Hz]"""
    whole = sum(length for length, _, _ in pieces)

    def off(k: float) -> float:
        p, slope = 1.0, 0.0  # pressure and its slope along the duct, closed end
        for piece in pieces:
            length, (x1, x2) = piece[0], apex(*piece)
            # x p = a cos k(x - x1) + b sin k(x - x1)
            a, b = x1 * p, (p + x1 * slope) / k
            c, s = math.cos(k * length), math.sin(k * length)
            p = (a * c + b * s) / x2
            slope = (k * (b * c - a * s) - p) / x2
        return slope / k

    return [_root(off, mode, whole) for mode in range(1, count + 1)]


def _root(off: Callable[[float], float], mode: int, length: float) -> float:
    """Frequency of the mode-th sign change of a function of the wave number. [Hz]"""
    grid = np.linspace(0.3, mode + 1.0, 400) * math.pi / length
    values = [off(float(k)) for k in grid]
    at = [n for n in range(len(grid) - 1) if values[n] * values[n + 1] < 0.0]
    k = float(brentq(off, float(grid[at[mode - 1]]), float(grid[at[mode - 1] + 1])))  # type: ignore[arg-type]
    return k * SOUND_SPEED / (2.0 * math.pi)


def marched(pieces: list[tuple[float, float, float]], near: float) -> float:
    """Tone of closed cones after a push at their head, nearest to a frequency [Hz]; by the march."""
    rig = Rig(gamma=GAMMA, gas_constant=GAS_CONSTANT, p=PRESSURE, T=TEMPERATURE)
    duct = rig.duct(*pieces, cell=sum(p[0] for p in pieces) / CELLS)
    rig.assembly.close(duct.head)
    rig.assembly.close(duct.tail)
    rig.close()
    rho, p = rig.field(duct, "rho"), rig.field(duct, "p")
    more = 5.0 * np.exp(-((duct.places / 0.04) ** 2))
    rig.fill(duct, rho + more / rig.sound**2, np.zeros_like(rho), p + more)
    return nearest_tone(rig, duct, near, 30.0 / near)


def nearest_tone(rig: Rig, duct: DuctRef, near: float, seconds: float) -> float:
    """Frequency of the strongest line within a fifth of a frequency, in the pressure at a duct's head. [Hz]"""
    step = rig.safe_step(1.02)
    sound = rig.record([duct.cells.start], seconds, step)[0][:, 0]
    sound = (sound - sound.mean()) * np.hanning(sound.size)
    times = step * np.arange(sound.size)
    frequencies = near * np.linspace(0.803, 1.201, 997)
    strength = np.abs(np.exp(-2j * math.pi * np.outer(frequencies, times)) @ sound)
    return float(frequencies[int(np.argmax(strength))])


# ---- airbox ---------------------------------------------------------------------------------------------


def box_tone(volume: float, bore: float, length: float) -> float:
    """Helmholtz's tone of a volume [m3] behind a mouth. [Hz]

    The march knows the end correction of the outer end; its room sees no flow converge, so the inner one has none.
    """
    effective = length + 0.61 * 0.5 * bore
    return SOUND_SPEED / (2.0 * math.pi) * math.sqrt(area_of(bore) / (volume * effective))


def box(volume: float, bore: float, length: float) -> float:
    """The same by the march: a box let go at a little more pressure. [Hz]"""
    rig = Rig(gamma=GAMMA, gas_constant=GAS_CONSTANT, p=PRESSURE, T=TEMPERATURE)
    neck = rig.duct((length, bore, bore), cell=0.010)
    room = rig.room(volume, p=PRESSURE + 20.0)
    rig.mouth(neck.head)
    rig.assembly.join(neck.tail, room, neck.tail.area, neck.tail.area)
    rig.close()
    rig.settle()
    near = box_tone(volume, bore, length)
    return nearest_tone(rig, neck, near, 12.0 / near)
