"""Mean, scatter, and what groups explain of it: one-way analysis of variance, without losing digits.

Sums are taken by `math.fsum` around the mean, never as a difference of large squares. Checked against the
certified values of the NIST Statistical Reference Datasets (NumAcc4, SiRstv, SmLs01, SmLs04) by
`pulsewright verify --only statistics`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

Values = Sequence[float] | np.ndarray


@dataclass(frozen=True, slots=True, kw_only=True)
class OneWay:
    """Scatter between and within groups."""

    between_squares: float
    within_squares: float
    between_freedom: int
    within_freedom: int

    @property
    def within_sd(self) -> float:
        """Repeatability: standard deviation of one value in its group; NaN where no group has two."""
        return math.sqrt(self.within_squares / self.within_freedom) if self.within_freedom else float("nan")

    @property
    def f_statistic(self) -> float:
        """Mean square between over mean square within. [-]"""
        if not self.between_freedom or not self.within_squares:
            return float("nan")
        return self.between_squares / self.between_freedom / (self.within_squares / self.within_freedom)

    @property
    def r_squared(self) -> float:
        """Share of the squares that the groups explain. [-]"""
        return self.between_squares / (self.between_squares + self.within_squares)


def one_way(values: Values, groups: Sequence[object] | np.ndarray) -> OneWay:
    """Analysis of variance of `values` (n,) by the group that each belongs to (n,)."""
    members: dict[object, list[float]] = {}
    for value, group in zip(values, groups, strict=True):
        members.setdefault(group, []).append(float(value))
    origin = mean([v for each in members.values() for v in each])
    shifted = {group: [v - origin for v in each] for group, each in members.items()}
    middle = mean([v for each in shifted.values() for v in each])  # what rounding left of the origin
    between = math.fsum(len(each) * (mean(each) - middle) ** 2 for each in shifted.values())
    within = math.fsum(_squares(each) for each in shifted.values())
    count = sum(len(each) for each in members.values())
    return OneWay(
        between_squares=between, within_squares=within,
        between_freedom=len(members) - 1, within_freedom=count - len(members),
    )  # fmt: skip


def mean(values: Values) -> float:
    """Arithmetic mean."""
    return math.fsum(values) / len(values)


def standard_deviation(values: Values) -> float:
    """Standard deviation of one value around the mean of all. NaN for fewer than two."""
    return math.sqrt(_squares(values) / (len(values) - 1)) if len(values) > 1 else float("nan")


def lag1_autocorrelation(values: Values) -> float:
    """Correlation of every value with the next, around the common mean. [-]"""
    middle = mean(values)
    off = [float(v) - middle for v in values]
    squares = math.fsum(d * d for d in off)
    return math.fsum(a * b for a, b in pairwise(off)) / squares if squares else float("nan")


def _squares(values: Values) -> float:
    middle = mean(values)
    return math.fsum((float(v) - middle) ** 2 for v in values)
