r"""Third-octave bands: exact frequencies, names, and what of a line spectrum falls into each.

.. math:: f_m = 1000 \cdot 10^{x/10} Hz, \qquad f_{1,2} = f_m \cdot 10^{\mp 1/20}

Source   IEC 61260-1:2014, clause 5: base-ten system, b = 3; names by ISO 266 (both from memory).
Holds    lines counted into bands with sharp edges. A real filter lets a little of its neighbours through, so a
         meter differs where a strong line lies near an edge.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

DIGITS = (1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0)  # names of ten neighbours, times a power of ten


@dataclass(frozen=True, slots=True)
class Band:
    """One third of an octave; `number` counts from the band at 1 kHz."""

    number: int

    @property
    def middle(self) -> float:
        """Exact mid-band frequency. [Hz]"""
        return 1000.0 * 10.0 ** (self.number / 10.0)

    @property
    def low(self) -> float:
        """Lower edge. [Hz]"""
        return self.middle * 10.0**-0.05

    @property
    def high(self) -> float:
        """Upper edge. [Hz]"""
        return self.middle * 10.0**0.05

    @property
    def name(self) -> float:
        """Nominal frequency, as it is written on an axis. [Hz]"""
        return round(DIGITS[self.number % 10] * 10.0 ** (3 + self.number // 10), 6)


def bands_within(low: float, high: float) -> list[Band]:
    """The bands whose whole width lies between two frequencies [Hz], from low to high."""
    first = math.ceil(10.0 * math.log10(low / 1000.0) + 0.5 - 1e-9)
    last = math.floor(10.0 * math.log10(high / 1000.0) - 0.5 + 1e-9)
    return [Band(n) for n in range(first, last + 1)]


def band_powers(frequencies: Floats, powers: Floats, bands: list[Band]) -> Floats:
    """Sum of the powers of the lines in each of some neighbouring bands, in the unit of `powers`. (bands,)

    frequencies : (lines,) [Hz]; powers : (lines,). A line on an edge belongs to the band above.
    """
    edges = np.array([band.low for band in bands] + [bands[-1].high])
    summed, _ = np.histogram(frequencies, bins=edges, weights=powers)
    return summed
