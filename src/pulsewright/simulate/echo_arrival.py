"""When the echo acts at the exhaust valve, and how long a pulse takes down the pipe and back."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

NEAR = 20.0  # [deg] around both valves open (or both shut in between) that still counts
ENOUGH = 0.3  # of the strongest moment in overlap: a peak that acts less is not the echo
CLEAR = 0.05  # of the strongest wave that leaves the valve; a weaker echo is not called one
ALIKE = 0.6  # correlation from which a returning wave counts as the delayed leaving wave


def echo_arrival(crank: Floats, leaving: Floats, returning: Floats, lift_in: Floats, lift_out: Floats) -> int | None:
    """Index of the crank angle at which the wave that comes back is strongest around overlap, or None.

    leaving, returning : (n,) waves at the valve [Pa]. Peaks and valleys of the returning wave count by
    their height times the smaller of the two lifts: what comes while a valve is all but shut does
    little. Without a peak in overlap it is the moment at which that product is largest, and where the
    valves do not overlap the strongest moment within 20 degrees of the change.
    """
    both = np.minimum(lift_in, lift_out)
    size = np.abs(returning)
    if both.max() > 0.0:
        inner = np.r_[False, (size[1:-1] >= size[:-2]) & (size[1:-1] > size[2:]), False]
        weight = size * both
        at = (
            int(np.argmax(np.where(inner, weight, 0.0)))
            if (weight * inner).max() > 0.3 * weight.max()
            else int(np.argmax(weight))
        )
    else:
        closes, opens = crank[lift_out > 0.0].max(), crank[lift_in > 0.0].min()
        near = (crank > min(opens, closes) - NEAR) & (crank < max(opens, closes) + NEAR)
        at = int(np.argmax(np.where(near, size, 0.0)))
    return at if size[at] >= CLEAR * float(np.max(np.abs(leaving))) else None


def round_trip(leaving: Floats, returning: Floats, guess: float) -> float | None:
    """Crank angle from a wave's leaving the valve to its coming back [deg]; None where none can be told.

    leaving, returning : (721,) by crank degree, first and last the same moment. The delay is the one at
    which the returning wave is most like the leaving one (upright or upside down), searched between 0.6
    and 1.6 of `guess` [deg], the trip at the mean speed of sound.
    """
    out, back = leaving[:-1] - leaving[:-1].mean(), returning[:-1] - returning[:-1].mean()
    scale = float(np.linalg.norm(out) * np.linalg.norm(back))
    lags = np.arange(max(int(0.6 * guess), 1), min(int(1.6 * guess) + 1, out.size // 2))
    if lags.size < 3 or np.linalg.norm(back) < CLEAR * np.linalg.norm(out):
        return None
    alike = np.abs([float(back @ np.roll(out, lag)) for lag in lags]) / scale
    best = int(np.argmax(alike))
    inside = 0 < best < lags.size - 1  # at a border of the search it is no peak
    return float(lags[best]) if inside and alike[best] >= ALIKE else None
