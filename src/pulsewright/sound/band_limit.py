r"""Up to which frequency the one-dimensional model has anything to say.

.. math:: f = \min\left(\frac{1.84\, c}{\pi d}, \; \frac{c}{10 \Delta x}, \; 0.8 \cdot 360\, \frac{rpm}{120} \right)

Above the first a round duct carries waves that are not plane; above the second a wave has fewer than ten cells and
the solver wears it down (0.4 dB for each of its lengths at the limit, measured); the third is four fifths of what
one sample a crank degree can tell.

Source   first zero of the derivative of the Bessel function J1, 1.8412: Munjal, Acoustics of Ducts and Mufflers,
         ch. 1 (from memory).
"""

from __future__ import annotations

import math

import numpy as np

from pulsewright.kernel.layout import TRACE_STEPS
from pulsewright.network.case import Case

CUT_ON = 1.8412
CELLS_A_WAVE = 10.0
SHARE_OF_SAMPLING = 0.8  # of half the rate at which crank degrees pass


def plane_wave_limit(bore: float, sound_speed: float) -> float:
    """Frequency from which a round duct carries more than plane waves. [Hz]; bore [m], sound speed [m/s]"""
    return CUT_ON * sound_speed / (math.pi * bore)


def band_limit(case: Case, rpm: float) -> float:
    """Highest frequency of a case that has just run a traced cycle. [Hz]"""
    c = case.arrays["cells"][0]
    inside = np.concatenate(
        [np.arange(min(head, tail), max(head, tail) + 1) for head, tail in case.arrays["ends"][:, 1].reshape(-1, 2)]
    )
    sound = np.mean(case.arrays["traces"][2][:, inside], axis=0)
    length = 1.0 / c["inverse_length"][inside]
    bore = np.sqrt(4.0 / math.pi / (c["inverse_volume"][inside] * length))
    plane = float(np.min(plane_wave_limit(1.0, 1.0) * sound / bore))
    solved = float(np.min(sound / (CELLS_A_WAVE * length)))
    sampled = SHARE_OF_SAMPLING * 0.5 * TRACE_STEPS * rpm / 120.0
    return min(plane, solved, sampled)
