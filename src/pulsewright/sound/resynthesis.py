"""From spectra at a few engine speeds to pressure over time, at a steady speed or while the engine revs up or down.

The crank turns on without a break, and every line of the spectrum turns with it: line n makes n turns in a cycle.
Between two computed speeds its strength moves in a straight line, and so does its phase, the shorter way round. An
engine that speeds up is taken at every moment as it would run at that speed for ever.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from pulsewright.sound.tone_lines import ToneLines

Floats = npt.NDArray[np.float64]

FADE = 0.03  # [s] at both ends, so that nothing clicks


def steady_speed(rpm: float, seconds: float, rate: int) -> Floats:
    """Engine speed at every sample. (samples,) [1/min]"""
    return np.full(round(seconds * rate), float(rpm))


def swept_speed(rpm_from: float, rpm_to: float, seconds: float, rate: int) -> Floats:
    """The same for an engine that goes evenly from one speed to another. (samples,) [1/min]"""
    return np.linspace(rpm_from, rpm_to, round(seconds * rate))


def pressure_over_time(spectra: Sequence[ToneLines], rpm: Floats, rate: int) -> Floats:
    """Sound pressure at every sample. (samples,) [Pa]

    spectra : at rising engine speeds; outside them the nearest holds. rpm : (samples,) engine speed; rate : [1/s].
    """
    known = np.array([s.rpm for s in spectra])
    strength, phase = _tables(spectra)
    cycles = _turned(rpm, rate)
    pressure = np.zeros(rpm.size)
    for n in range(strength.shape[1]):
        turned = 2.0 * np.pi * (n + 1) * cycles + np.interp(rpm, known, phase[:, n])
        pressure += np.interp(rpm, known, strength[:, n]) * np.cos(turned)
    return pressure * _fade(rpm.size, rate)


def _tables(spectra: Sequence[ToneLines]) -> tuple[Floats, Floats]:
    """Strength [Pa] and unwrapped phase [rad] by speed and line; a line that a speed does not have is silent there."""
    lines = np.zeros((len(spectra), max(s.pressure.size for s in spectra)), dtype=np.complex128)
    for row, spectrum in zip(lines, spectra, strict=True):
        row[: spectrum.pressure.size] = spectrum.pressure
    phase = np.angle(lines)
    for row in range(1, len(spectra)):  # where a line is silent its phase is free: that of the speed below
        phase[row] = np.where(lines[row] == 0.0, phase[row - 1], phase[row])
    for row in range(len(spectra) - 2, -1, -1):
        phase[row] = np.where(lines[row] == 0.0, phase[row + 1], phase[row])
    return np.abs(lines), np.unwrap(phase, axis=0)


def _turned(rpm: Floats, rate: int) -> Floats:
    """Engine cycles since the start. (samples,)"""
    middle = 0.5 * (rpm[1:] + rpm[:-1])
    return np.concatenate([[0.0], np.cumsum(middle)]) / (120.0 * rate)


def _fade(samples: int, rate: int) -> Floats:
    """1 in the middle, rising from 0 and falling to it at the ends. (samples,)"""
    count = min(round(FADE * rate), samples // 2)
    rise = 0.5 - 0.5 * np.cos(np.pi * np.arange(count) / max(count, 1))
    return np.concatenate([rise, np.ones(samples - 2 * count), rise[::-1]])
