"""Engine-speed pick-up faults: samples dropped, doubled or halved.

With a roller speed the ratio engine/roller is fixed by the gears, so a sample that leaves it by a quarter
is a pick-up fault: slip reaches a few per cent (trade practice), a wasted-spark or missed-pulse fault a
factor of 1.5 or more. Without a roller, a sample is held against the running median of its neighbours: at
the fastest usual sweep (700 rpm/s) speed changes under 15 % within the window, a fault by a third or more. A
stretch too long for that begins and ends with a jump by two, which no engine does from sample to sample.
"""

from __future__ import annotations

import numpy as np

RATIO_FAULT = 0.25  # [-]
JUMP_FAULT = 0.15  # [-]
WINDOW = 9  # samples in the running median: holds up to four faults in a row
NEAR_TWO = 0.1  # [-] a jump from sample to sample that near 2 or 1/2 is a change of count
STEADY = 5.0  # usual steps from sample to sample that such a jump is at least


def pickup_faults(engine_speed: np.ndarray, roller_speed: np.ndarray | None) -> np.ndarray:
    """True where the engine speed cannot be the crank's. (n_sample,) bool"""
    bad = ~np.isfinite(engine_speed) | (engine_speed <= 0.0)
    if (~bad).sum() < WINDOW:
        return bad
    if roller_speed is not None:
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = engine_speed / roller_speed
        rolling = ~bad & np.isfinite(ratio) & (roller_speed > 0.0)
        if rolling.sum() > 0.8 * (~bad).sum():
            middle = np.median(ratio[rolling])
            return bad | (rolling & (np.abs(ratio / middle - 1.0) > RATIO_FAULT))
    middle = running_median(np.where(bad, np.nan, engine_speed), WINDOW)
    with np.errstate(invalid="ignore"):
        bad |= np.abs(engine_speed / middle - 1.0) > JUMP_FAULT
    return bad | _other_count(engine_speed, ~bad)


def _other_count(engine_speed: np.ndarray, good: np.ndarray) -> np.ndarray:
    """Stretches counted twice or half as often as most of the pull. (n_sample,) bool"""
    wrong = np.zeros(good.size, dtype=bool)
    if good.sum() < WINDOW:
        return wrong
    octaves = np.diff(np.log2(engine_speed[good]))
    whole = np.where(np.abs(np.abs(octaves) - 1.0) < np.log2(1.0 + NEAR_TWO), np.sign(octaves), 0.0)
    whole[np.abs(octaves) < STEADY * np.median(np.abs(octaves))] = 0.0
    count = np.concatenate([[0.0], np.cumsum(whole)])
    values, members = np.unique(count, return_counts=True)
    wrong[good] = count != values[members.argmax()]
    return wrong


def running_median(values: np.ndarray, window: int) -> np.ndarray:
    """Median over a centred window, NaN left out; the ends use what lies inside."""
    return running_quantile(values, window, 0.5)


def running_quantile(values: np.ndarray, window: int, share: float) -> np.ndarray:
    """Quantile over a centred window, NaN left out; the ends use what lies inside."""
    half = window // 2
    padded = np.concatenate([np.full(half, np.nan), values, np.full(half, np.nan)])
    ordered = np.sort(np.lib.stride_tricks.sliding_window_view(padded, window), axis=1)  # NaN comes last
    last = np.isfinite(ordered).sum(axis=1) - 1
    place = share * np.maximum(last, 0)
    below = np.floor(place).astype(int)
    above = np.minimum(below + 1, np.maximum(last, 0))
    row = np.arange(values.size)
    lower, upper = ordered[row, below], ordered[row, above]
    return np.where(last >= 0, lower + (place - below) * (upper - lower), np.nan)
