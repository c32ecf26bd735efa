"""Difference of two setups as a curve over engine speed, with a band that holds the whole curve.

Curves   every pull's log torque along its trend (trend.py, 300 rpm to each side), heat and drift taken out.
         Whole pulls are the unit.
Scatter  covariance of one pull around the mean of its setup, pooled over all setups of the session, with a
         prior worth 4 degrees of freedom: a gain of 0.7 % common to all speeds and 0.4 % of a 50 rpm bin
         (common practice, no published source), the bins carried through the trend.
Constant the doubt about drift and the refit move all speeds alike and are added.
Band     simultaneous_band.py. Shape: the same for the difference less its mean over the band, in which
         everything that moves all speeds alike drops out; it tells a local change from a broad one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pulsewright.pulls.pull_levels import SCATTER_FREEDOM, SCATTER_PRIOR
from pulsewright.pulls.simultaneous_band import critical_value, pooled_covariance, roughness, t_quantile
from pulsewright.pulls.trend import trend, trend_matrix

BIN_NOISE = 0.004  # [-] of a 50 rpm bin of one pull
BROAD_SHARE = 2.0 / 3.0  # of the band that must differ, the same way, for a broad change


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """Difference at one speed or over a stretch of speeds, in per cent with its interval."""

    rpm: float  # [rpm] the speed, or the lowest of the stretch
    percent: float
    low: float
    high: float

    def as_json(self) -> dict[str, float]:
        """Plain values."""
        return {"rpm": round(self.rpm), **{k: round(getattr(self, k), 2) for k in ("percent", "low", "high")}}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DifferenceCurve:
    """Torque of the second setup over the first within a band of speeds, in per cent."""

    rpm: np.ndarray  # (n_bin,)
    percent: np.ndarray  # (n_bin,) along the trend
    low: np.ndarray  # (n_bin,) simultaneous 95 % band
    high: np.ndarray
    log: np.ndarray  # (n_bin,) log of the ratio
    log_sd: np.ndarray  # (n_bin,) its standard deviation
    critical: float  # half-width of the band in standard deviations
    pointwise: float  # the same at one speed chosen beforehand
    freedom: float  # degrees of freedom of the scatter
    worst: Point  # lowest difference, with the band there
    best: Point
    differs: tuple[tuple[float, float], ...]  # [rpm] stretches where the band leaves 0 out
    kind: str  # "none", "broad" or "local"

    def as_json(self) -> dict[str, object]:
        """Plain values with the curve."""
        curves = {"percent": self.percent, "low": self.low, "high": self.high}
        return {
            "rpm": self.rpm.tolist(), **{key: np.round(v, 3).tolist() for key, v in curves.items()},
            "critical": round(self.critical, 3), "pointwise": round(self.pointwise, 3),
            "freedom": round(self.freedom, 2), "worst": self.worst.as_json(), "best": self.best.as_json(),
            "differs_rpm": [list(span) for span in self.differs], "kind": self.kind,
        }  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PullScatter:
    """Log torque of pulls over the bins that all of them hold, and the scatter of one pull."""

    rpm: np.ndarray  # (n_bin,)
    first: np.ndarray  # (n_pull, n_bin)
    second: np.ndarray
    covariance: np.ndarray  # (n_bin, n_bin) of one pull
    freedom: float
    constant: float  # variance of what moves all speeds of the difference alike

    @property
    def difference(self) -> np.ndarray:
        """Log of second over first. (n_bin,)"""
        return self.second.mean(axis=0) - self.first.mean(axis=0)

    @property
    def difference_covariance(self) -> np.ndarray:
        """(n_bin, n_bin) of the difference."""
        return self.covariance * (1.0 / len(self.first) + 1.0 / len(self.second)) + self.constant


def pull_scatter(
    rpm: np.ndarray,
    first: np.ndarray,
    second: np.ndarray,
    others: list[np.ndarray],
    *,
    span: tuple[float, float],
    constant: float,
    drift_freedom: float,
) -> PullScatter | None:
    """Scatter of one pull over the speeds in `span` that every pull of both setups holds; None under 3 bins.

    rpm : (n_bin,). first, second, others : torque with drift taken out, (n_pull, n_bin) a setup [N m].
    constant : variance that all speeds of the difference share [-]. drift_freedom : degrees of freedom that
    the drift has used.
    """
    filled = np.asarray(np.isfinite(np.vstack([first, second])).all(axis=0))
    smooth = trend_matrix(rpm.astype(float), filled)
    use = filled & (rpm >= span[0]) & (rpm <= span[1]) & np.isfinite(smooth).all(axis=1)
    if use.sum() < 3:
        return None
    a, b = (_trended(rpm, curves, use) for curves in (first, second))
    rest = [_trended(rpm, curves, use) for curves in others]
    rest = [kept for curves in rest if len(kept := curves[np.isfinite(curves).all(axis=1)]) > 1]
    rows = smooth[use]
    prior = SCATTER_PRIOR**2 + BIN_NOISE**2 * (rows @ rows.T)
    covariance, freedom = pooled_covariance([a, b, *rest], prior=prior, prior_freedom=SCATTER_FREEDOM)
    free = max(SCATTER_FREEDOM, freedom - drift_freedom)
    return PullScatter(
        rpm=rpm[use], first=a, second=b, covariance=covariance * freedom / free, freedom=free,
        constant=constant,
    )  # fmt: skip


def difference_curve(scatter: PullScatter) -> DifferenceCurve:
    """The curve with its band, its extremes, and whether it is broad or local."""
    difference, covariance = scatter.difference, scatter.difference_covariance
    sd = np.sqrt(np.diag(covariance))
    critical = _critical(covariance, scatter.freedom)
    low, high = difference - critical * sd, difference + critical * sd
    leaves = (low > 0.0) | (high < 0.0)
    percent = [100.0 * np.expm1(each) for each in (difference, low, high)]
    points = [
        Point(rpm=float(scatter.rpm[k]), **{n: float(p[k]) for n, p in zip(_NAMES, percent, strict=True)})
        for k in (int(difference.argmin()), int(difference.argmax()))
    ]
    return DifferenceCurve(
        rpm=scatter.rpm, percent=percent[0], low=percent[1], high=percent[2], log=difference, log_sd=sd,
        critical=critical, pointwise=t_quantile(0.025, scatter.freedom), freedom=scatter.freedom,
        worst=points[0], best=points[1], differs=_stretches(scatter.rpm, leaves),
        kind=_kind(scatter, low > 0.0, high < 0.0),
    )  # fmt: skip


def mean_difference(scatter: PullScatter) -> Point:
    """Mean over the bins, with its 95 % interval."""
    share = np.full(scatter.rpm.size, 1.0 / scatter.rpm.size)
    middle = float(share @ scatter.difference)
    half = t_quantile(0.025, scatter.freedom) * math.sqrt(share @ scatter.difference_covariance @ share)
    ends = (100.0 * math.expm1(x) for x in (middle, middle - half, middle + half))
    return Point(rpm=float(scatter.rpm[0]), **dict(zip(_NAMES, ends, strict=True)))


_NAMES = ("percent", "low", "high")


def _trended(rpm: np.ndarray, curves: np.ndarray, use: np.ndarray) -> np.ndarray:
    return np.vstack([trend(rpm, np.log(row))[use] for row in curves])


def _critical(covariance: np.ndarray, freedom: float) -> float:
    return critical_value(roughness(covariance), freedom, bins=len(covariance))


def _kind(scatter: PullScatter, above: np.ndarray, below: np.ndarray) -> str:
    share = max(above.mean(), below.mean())
    if share >= BROAD_SHARE:
        return "broad"
    if _shape_shows(scatter):
        return "local"
    mean = mean_difference(scatter)
    return "broad" if mean.low > 0.0 or mean.high < 0.0 else "none"


def _shape_shows(scatter: PullScatter) -> bool:
    count = scatter.rpm.size
    centre = np.eye(count) - 1.0 / count
    covariance = centre @ scatter.difference_covariance @ centre
    shape = centre @ scatter.difference
    half = _critical(covariance, scatter.freedom) * np.sqrt(np.diag(covariance))
    return bool((np.abs(shape) > half).any())


def _stretches(rpm: np.ndarray, inside: np.ndarray) -> tuple[tuple[float, float], ...]:
    """Runs of neighbouring bins that are inside. [rpm]"""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], inside, [False]]).astype(int)))
    return tuple((float(rpm[a]), float(rpm[b - 1])) for a, b in zip(edges[::2], edges[1::2], strict=True))
