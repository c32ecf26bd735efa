"""Averages in bins of 50 rpm, unsmoothed.

Between samples the value runs straight, and a bin holds the average of that line over its 50 rpm: a bin with
one sample off its centre is then as right as one with ten. Gaps over 100 rpm stay empty.
"""

from __future__ import annotations

import numpy as np

WIDTH = 50.0  # [rpm] set by the meaning of a hole in the session format
LONGEST_GAP = 100.0  # [rpm]
_PARTS = 10  # points a bin on the straight line


def bin_centres(lowest: float, highest: float) -> np.ndarray:
    """Bin centres at multiples of 50 rpm that cover the range. (n_bin,) [rpm]"""
    first, last = np.ceil(lowest / WIDTH), np.floor(highest / WIDTH)
    return WIDTH * np.arange(first, last + 1)


def bin_average(speed: np.ndarray, values: np.ndarray, centres: np.ndarray) -> np.ndarray:
    """Average of `values` over each bin; NaN where there are no samples. (n_bin,)"""
    finite = np.isfinite(speed) & np.isfinite(values)
    if finite.sum() < 2:
        return np.full(centres.shape, np.nan)
    order = np.argsort(speed[finite], kind="stable")
    x, first = np.unique(speed[finite][order], return_index=True)
    y = np.add.reduceat(values[finite][order], first) / np.diff(np.append(first, finite.sum()))
    offsets = (np.arange(_PARTS) + 0.5) / _PARTS * WIDTH - WIDTH / 2
    points = centres[:, None] + offsets
    average = np.interp(points, x, y).mean(axis=1)
    above = np.searchsorted(x, centres)
    gap = x[np.minimum(above, x.size - 1)] - x[np.maximum(above - 1, 0)]
    outside = (centres < x[0]) | (centres > x[-1]) | (gap > LONGEST_GAP)
    return np.where(outside, np.nan, average)


def hold_average(speed: np.ndarray, values: np.ndarray, centres: np.ndarray) -> np.ndarray:
    """Average of the samples whose speed falls in each bin, for held steps. (n_bin,)"""
    finite = np.isfinite(speed) & np.isfinite(values)
    place = np.round((speed[finite] - centres[0]) / WIDTH).astype(int)
    inside = (place >= 0) & (place < centres.size)
    count = np.bincount(place[inside], minlength=centres.size)
    total = np.bincount(place[inside], weights=values[finite][inside], minlength=centres.size)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)
