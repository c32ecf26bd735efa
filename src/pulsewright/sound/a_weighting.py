r"""A-weighting: how much less the ear hears of low and of very high tones.

.. math:: A(f) = 20 \log_{10} \frac{f_4^2 f^4}{(f^2+f_1^2)\sqrt{(f^2+f_2^2)(f^2+f_3^2)}(f^2+f_4^2)} - A_{1000}

Source   IEC 61672-1:2013, equation (E.6) of its annex E and the pole frequencies given there (from memory).
Holds    any frequency above 0; the norm's table runs from 10 Hz to 20 kHz.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

F1, F2, F3, F4 = 20.598997, 107.65265, 737.86223, 12194.217  # [Hz]


def a_weight(frequency: float | Floats) -> Floats:
    """What A-weighting adds to the level of a tone [dB]; 0 dB at 1 kHz. frequency [Hz], any shape, above 0."""
    return 20.0 * np.log10(_gain(np.asarray(frequency, dtype=float)) / _gain(np.float64(1000.0)))


def _gain(f: Floats | np.float64) -> Floats:
    """Gain before it is brought to 1 at 1 kHz."""
    square = f * f
    low = square * square / ((square + F1 * F1) * np.sqrt((square + F2 * F2) * (square + F3 * F3)))
    return low * F4 * F4 / (square + F4 * F4)
