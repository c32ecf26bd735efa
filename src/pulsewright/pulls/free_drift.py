"""What the order of the pulls does to a difference, and the difference with drift left wholly free.

Plain means take a straight drift for an effect unless the order balances it: for a drift d a pull the means
of A-A-B-B differ by 2 d, of A-B-A-B by 1 d, of A-B-B-A and A-B-A by nothing (arithmetic). A least squares
fit of setup and place in the day has no such bias in any order, and pays with a wider interval. It believes
nothing beforehand, not even how pulls scatter, and so stands beside level_difference.py as a check.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pulsewright.pulls.least_squares import least_squares
from pulsewright.pulls.simultaneous_band import t_quantile

BALANCED = 0.5  # [pull] below it drift of 0.3 % a pull moves the difference by under 0.15 %


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeDrift:
    """A difference beside the order that it came from."""

    order: str  # "AABB"; a dot is a pull of another setup
    bias_pulls: float  # difference of plain means a unit of drift a pull
    percent: float | None  # second over first with drift free; None: the pulls do not settle it
    low: float | None  # 95 % interval
    high: float | None
    drift_percent: float | None  # [%/pull]
    wider: float  # interval over that of as many pulls in an order that balances drift [-]

    @property
    def balanced(self) -> bool:
        """True where a straight drift leaves plain means alone."""
        return abs(self.bias_pulls) < BALANCED

    def as_json(self) -> dict[str, object]:
        """Plain values."""
        return {
            "order": self.order, "balanced": self.balanced, "bias_pulls": round(self.bias_pulls, 3),
            "wider": round(self.wider, 2),
            "percent": _rounded(self.percent),
            "interval": [_rounded(self.low), _rounded(self.high)],
            "drift_percent": _rounded(self.drift_percent),
        }  # fmt: skip


def order_bias(setups: list[str], first: str, second: str, place: np.ndarray | None = None) -> float:
    """Difference of plain means of second and first under a drift of 1 a pull. [pull]

    place : (n_pull,) of every pull in the day, one after another where none is given.
    """
    at = np.arange(len(setups), dtype=float) if place is None else place
    names = np.array(setups)
    return float(at[names == second].mean() - at[names == first].mean())


def free_drift(
    level: np.ndarray, setups: list[str], first: str, second: str, *, place: np.ndarray | None = None
) -> FreeDrift:
    """Difference by least squares of setup and place in the day.

    level : (n_pull,) log torque in the order of the day, heat taken out. setups : (n_pull,) names.
    place : (n_pull,) of every pull in the day, one after another where none is given.
    """
    order = "".join({first: "A", second: "B"}.get(name, ".") for name in setups)
    place = np.arange(len(setups)) - (len(setups) - 1) / 2.0 if place is None else place
    bias = order_bias(setups, first, second, place)
    names = list(dict.fromkeys(setups))
    design = np.column_stack([[float(s == n) for s in setups] for n in names] + [place])
    fit = least_squares(design, level)
    a, b = names.index(first), names.index(second)
    if fit is None:
        return FreeDrift(order=order, bias_pulls=bias, percent=None, low=None, high=None, drift_percent=None, wider=1.0)
    middle = float(fit.estimate[b] - fit.estimate[a])
    c = fit.covariance
    half = t_quantile(0.025, fit.freedom) * math.sqrt(max(0.0, c[a, a] + c[b, b] - 2.0 * c[a, b]))
    percent, low, high = (100.0 * math.expm1(x) for x in (middle, middle - half, middle + half))
    unit = np.linalg.inv(design.T @ design)
    plain = 1.0 / setups.count(first) + 1.0 / setups.count(second)
    return FreeDrift(
        order=order, bias_pulls=bias, percent=percent, low=low, high=high,
        drift_percent=100.0 * math.expm1(float(fit.estimate[-1])),
        wider=math.sqrt((unit[a, a] + unit[b, b] - 2.0 * unit[a, b]) / plain),
    )  # fmt: skip


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 2)
