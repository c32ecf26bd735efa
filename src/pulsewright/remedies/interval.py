"""A value with its 80 % interval, from the draws of a fitted machine and what the model itself may be off."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

HALF_OF_80 = 1.2816  # standard deviations of a normal distribution that hold 80 % between them
PRIOR_WEIGHT = 2.0  # draws that the usual spread counts for, so that one or two draws are not taken for certain
LEAST = 1e-9


@dataclass(frozen=True, slots=True)
class Interval:
    """A value and the 80 % interval around it."""

    value: float
    low: float
    high: float

    def as_json(self, digits: int = 2) -> dict[str, float | None]:
        """Plain values; null where nothing is known."""
        return {k: round(v, digits) if math.isfinite(v) else None for k, v in zip(
            ("value", "low", "high"), (self.value, self.low, self.high), strict=True)}  # fmt: skip


def spread(draws: np.ndarray, usual: float) -> np.ndarray:
    """Standard deviation over the first axis, with the usual one where there are few draws. (...)"""
    around = ((draws - draws.mean(axis=0)) ** 2).sum(axis=0)
    return np.sqrt((PRIOR_WEIGHT * usual**2 + around) / (PRIOR_WEIGHT + len(draws) - 1))


def interval(draws: np.ndarray, *, usual: float, doubt: float) -> Interval:
    """80 % interval of a number known on draws. (draws,)

    usual : standard deviation over draws that is believed beforehand. doubt : of the model, on top of the draws.
    """
    value = float(draws.mean())
    half = HALF_OF_80 * math.hypot(float(spread(draws, usual)), doubt)
    return Interval(value, value - half, value + half)


def added(one: Interval, other: Interval) -> Interval:
    """The sum of two numbers whose doubts have nothing to do with each other."""
    value = one.value + other.value
    below = math.hypot(one.value - one.low, other.value - other.low)
    above = math.hypot(one.high - one.value, other.high - other.value)
    return Interval(value, value - below, value + above)
