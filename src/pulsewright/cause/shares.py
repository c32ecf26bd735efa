"""Torque with every group of causes taken away, on draws and speeds, to shares with intervals."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from pulsewright.cause.shapley import shapley

NEIGHBOURS = (-0.035, 0.0, 0.035)  # of the bottom's speed
NEIGHBOUR_WEIGHTS = (0.25, 0.5, 0.25)  # what the speeds next to the bottom say counts half as much each
HELPS = 0.01  # of the torque that a switch costs on the best draw: what helps the engine there is no cause
LEAST_GAIN = 0.005  # of the torque: below this nothing came back that could be shared out
LEAST_PART = 0.001  # of the torque: a switch that moves less does nothing
INTERVAL = (0.10, 0.90)
DOUBTS = 400  # ways in which the model may be wrong, tried on every draw and speed

Table = Mapping[frozenset[str], np.ndarray]  # (draws, speeds) [N m] with a group of causes taken away


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseShare:
    """One cause's part of the torque that all switches together bring back, with its 80 % interval."""

    cause: str
    share: float
    low: float
    high: float


def switches_that_matter(members: Sequence[str], screen: Table) -> list[str]:
    """Switches that give torque back on the first draw, or cost so little that another draw may say otherwise."""
    values = {g: float(np.average(t[0], weights=NEIGHBOUR_WEIGHTS)) for g, t in screen.items()}
    kept = without_helpers(members, values, HELPS * abs(values[frozenset()]))
    gains = shapley(kept, values)
    return [m for m in kept if abs(gains[m]) > LEAST_PART * abs(values[frozenset()])]


def without_helpers(members: Sequence[str], values: Mapping[frozenset[str], float], least: float = 0.0) -> list[str]:
    """Members left when the one that costs most [N m], and more than `least`, is dropped again and again.

    What helps the engine at a speed is no cause of its loss there.
    """
    kept = list(members)
    while kept:
        gains = shapley(kept, values)
        worst = min(gains, key=lambda m: gains[m])
        if gains[worst] >= -least:
            break
        kept.remove(worst)
    return kept


def shares_of(members: Sequence[str], table: Table, *, doubt: float, seed: int) -> tuple[CauseShare, ...]:
    """Shares with their 80 % intervals, largest first; none where hardly anything comes back.

    Every draw and speed counts; `doubt` is the standard deviation of the log of each gain that the model itself
    leaves open.
    """
    draws, speeds = table[frozenset()].shape
    importance = NEIGHBOUR_WEIGHTS if speeds == len(NEIGHBOUR_WEIGHTS) else (1.0 / speeds,) * speeds
    factors = np.exp(doubt * np.random.default_rng(seed).standard_normal((DOUBTS, len(members))))
    rows, weights = [], []
    for k, n in np.ndindex(draws, speeds):
        gains = gains_of(members, {g: float(t[k, n]) for g, t in table.items()})
        if gains is not None:
            found = factors * gains
            rows.append(found / found.sum(axis=1, keepdims=True))
            weights.append(importance[n])
    if sum(weights) < 0.5 * draws:
        return ()
    seen, weight = np.vstack(rows), np.repeat(weights, DOUBTS)
    middle = np.average(seen, axis=0, weights=weight)
    ends = [_quantiles(column, weight) for column in seen.T]
    shares = [
        CauseShare(cause=m, share=float(s), low=min(low, float(s)), high=max(high, float(s)))
        for m, s, (low, high) in zip(members, middle, ends, strict=True)
    ]
    return tuple(sorted(shares, key=lambda s: -s.share))


def gains_of(members: Sequence[str], values: Mapping[frozenset[str], float]) -> np.ndarray | None:
    """Gain of every member [N m], what helps the engine counted as 0; None where hardly anything comes back."""
    if not all(np.isfinite(v) for v in values.values()):
        return None
    found = shapley(without_helpers(members, values), values)
    gains = np.array([found.get(m, 0.0) for m in members])
    return gains if gains.sum() >= LEAST_GAIN * abs(values[frozenset()]) else None


def _quantiles(values: np.ndarray, weights: np.ndarray) -> tuple[float, float]:
    order = np.argsort(values)
    reach = (np.cumsum(weights[order]) - 0.5 * weights[order]) / weights.sum()
    low, high = np.interp(INTERVAL, reach, values[order])
    return float(low), float(high)
