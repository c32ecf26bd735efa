"""The lines of a sound that repeats itself every engine cycle of 720 crank degrees.

One turn of the crank is order 1, one cycle of a four-stroke is half an order: line n lies exactly at
n rpm / 120 Hz, order n / 2. A cycle of N samples has N / 2 lines at most.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pulsewright.sound.a_weighting import a_weight

Floats = npt.NDArray[np.float64]
Complexes = npt.NDArray[np.complex128]

QUIET = 20e-6  # [Pa] reference of sound pressure level, ISO 1683
SILENCE = -200.0  # [dB] stands for nothing at all


@dataclass(frozen=True, slots=True)
class ToneLines:
    """Sound pressure at one place and one engine speed, line by line; line n stands in row n - 1."""

    rpm: float  # [1/min]
    pressure: Complexes  # (lines,) [Pa] amplitude and phase at crank angle 0

    @property
    def orders(self) -> Floats:
        """Crank orders of the lines: 0.5, 1, 1.5 and so on. (lines,)"""
        return 0.5 * np.arange(1.0, self.pressure.size + 1.0)

    @property
    def frequencies(self) -> Floats:
        """(lines,) [Hz]"""
        return line_frequencies(self.rpm, self.pressure.size)

    @property
    def powers(self) -> Floats:
        """Mean square pressure of every line. (lines,) [Pa²]"""
        return 0.5 * np.abs(self.pressure) ** 2

    @property
    def weighted_powers(self) -> Floats:
        """The same, A-weighted. (lines,) [Pa²]"""
        return self.powers * 10.0 ** (0.1 * a_weight(self.frequencies))

    @property
    def level(self) -> float:
        """Sound pressure level, not weighted. [dB]"""
        return float(level_of(np.sum(self.powers)))

    def level_above(self, frequency: float) -> float:
        """A-weighted sound pressure level of the lines above a frequency [Hz]. [dB(A)]"""
        return float(level_of(np.sum(self.weighted_powers[self.frequencies > frequency])))

    @property
    def weighted_level(self) -> float:
        """A-weighted sound pressure level. [dB(A)]"""
        return float(level_of(np.sum(self.weighted_powers)))


def line_frequencies(rpm: float, lines: int) -> Floats:
    """Frequencies of the first lines of a four-stroke. (lines,) [Hz]"""
    return rpm / 120.0 * np.arange(1.0, lines + 1.0)


def lines_of(cycle: Floats, highest: float, rpm: float) -> Complexes:
    """Amplitudes of the lines of one cycle, up to a frequency [Hz]; the mean is left out. (lines,)

    cycle : (samples,) evenly spaced from crank angle 0, the last one a step before 720.
    """
    lines = min(int(highest / (rpm / 120.0) + 1e-9), cycle.size // 2 - 1)
    return 2.0 / cycle.size * np.fft.rfft(cycle)[1 : lines + 1]


def level_of(power: float | Floats) -> Floats:
    """Sound pressure level of a mean square pressure [Pa²]. [dB]"""
    with np.errstate(divide="ignore"):
        return np.maximum(10.0 * np.log10(np.asarray(power) / QUIET**2), SILENCE)
