"""Difference of two setups, with whole pulls as the unit and heat and drift taken out.

The interval holds the scatter of pulls and the doubt about drift (pull_levels.py); where the change touches
intake, exhaust or something not on the sheet it also holds the refit: 0.7 % for strapping down and putting
parts together again (common practice, no published source). A change of jets alone leaves the machine as it
stands.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pulsewright.pulls.difference_curve import (
    DifferenceCurve,
    Point,
    difference_curve,
    mean_difference,
    pull_scatter,
)
from pulsewright.pulls.equivalence import Equivalence, equivalence
from pulsewright.pulls.pull_levels import SCATTER_FREEDOM, PullLevels
from pulsewright.pulls.trend import trend

REFIT_SCATTER = 0.007  # [-]
TOP_SPAN = 500.0  # [rpm] the top end: the last speeds that both reach


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Comparison:
    """Torque of `second` over `first`, in per cent."""

    first: str
    second: str
    band: tuple[float, float]  # [rpm]
    mean_percent: float  # mean over the band
    mean_low: float  # 95 % interval
    mean_high: float
    bottom_rpm: float | None  # the bottom of the first setup's hole
    bottom_percent: float | None
    bottom_low: float | None
    bottom_high: float | None
    top_percent: float  # mean over the last 500 rpm that both reach
    proven: bool  # the interval of the mean leaves 0 out
    rpm: np.ndarray  # (n_bin,)
    curve_percent: np.ndarray  # (n_bin,) unsmoothed
    text: str
    mean_sd: float  # [-] of the log of the mean, with the doubt about drift and refit
    freedom: float  # degrees of freedom of mean_sd
    refit: bool  # parts were taken apart between the two
    curve: DifferenceCurve | None  # over the band with its simultaneous band; None: too few speeds in common
    equivalence: Equivalence | None
    top: Point | None  # mean over the top end with its interval

    def as_json(self) -> dict[str, object]:
        """Plain values without the curve."""
        return {
            "first": self.first, "second": self.second, "band": list(self.band),
            "mean_percent": round(self.mean_percent, 2),
            "interval": [round(self.mean_low, 2), round(self.mean_high, 2)], "proven": self.proven,
            "bottom_rpm": self.bottom_rpm and round(self.bottom_rpm),
            "bottom_percent": None if self.bottom_percent is None else round(self.bottom_percent, 2),
            "bottom_interval": None if self.bottom_low is None or self.bottom_high is None
            else [round(self.bottom_low, 2), round(self.bottom_high, 2)],
            "top_percent": round(self.top_percent, 2), "text": self.text,
        }  # fmt: skip


def compare(
    rpm: np.ndarray,
    first: np.ndarray,
    second: np.ndarray,
    *,
    names: tuple[str, str],
    levels: PullLevels,
    band: tuple[float, float],
    bottom: float | None,
    refit: bool,
    others: list[np.ndarray] | None = None,
) -> Comparison:
    """Compare two setups.

    rpm : (n_bin,) [rpm]. first, second : (n_pull, n_bin) corrected torque with drift taken out [N m].
    bottom : speed of the hole in the first [rpm], None without one. refit : parts were taken apart between
    them. others : the same of the session's other setups, for their scatter.
    """
    from scipy.stats import t

    log_first, log_second = (np.log(_mean(curves)) for curves in (first, second))
    curve = log_second - log_first
    inside = (rpm >= band[0]) & (rpm <= band[1]) & np.isfinite(curve)
    middle = float(curve[inside].mean()) if inside.any() else float("nan")
    _, sd = levels.difference(*names)
    critical = float(t.ppf(0.975, levels.freedom))
    mean_sd = math.hypot(sd, REFIT_SCATTER * math.sqrt(2.0) if refit else 0.0)
    half = critical * mean_sd
    at = at_half = None
    if bottom is not None and rpm[0] <= bottom <= rpm[-1]:
        smooth = trend(rpm, curve)
        ok = np.isfinite(smooth)
        at = float(np.interp(bottom, rpm[ok], smooth[ok]))
        shape = _shape_scatter(rpm, first, second, bottom)
        at_half = critical * math.hypot(half / critical, shape)
    known = np.flatnonzero(np.isfinite(curve))
    top = curve[known][rpm[known] >= rpm[known[-1]] - TOP_SPAN].mean() if known.size else float("nan")
    low, high = middle - half, middle + half
    proven = bool(low > 0.0 or high < 0.0)
    own_scatter = levels.scatter**2 * (1.0 / len(first) + 1.0 / len(second))
    shared = {
        "constant": max(0.0, mean_sd**2 - own_scatter),
        "drift_freedom": _drift_freedom(levels),
    }
    rows = (rpm, first, second, others or [])
    scatter = pull_scatter(*rows, span=band, **shared)
    over = difference_curve(scatter) if scatter else None
    end = (float(rpm[known[-1]]) - TOP_SPAN, float(rpm[known[-1]])) if known.size else (0.0, 0.0)
    top_scatter = pull_scatter(*rows, span=end, **shared)
    return Comparison(
        first=names[0], second=names[1], band=band,
        mean_percent=_percent(middle), mean_low=_percent(low), mean_high=_percent(high),
        bottom_rpm=bottom if at is not None else None,
        bottom_percent=None if at is None else _percent(at),
        bottom_low=None if at is None or at_half is None else _percent(at - at_half),
        bottom_high=None if at is None or at_half is None else _percent(at + at_half),
        top_percent=_percent(float(top)), proven=proven,
        rpm=rpm, curve_percent=100.0 * np.expm1(curve),
        text=_sentence(names, band, middle, low, high, proven, over),
        mean_sd=mean_sd, freedom=levels.freedom, refit=refit, curve=over,
        equivalence=over and equivalence(
            band, mean=(middle, mean_sd), mean_freedom=levels.freedom,
            log=over.log, log_sd=over.log_sd, freedom=over.freedom,
        ),
        top=top_scatter and mean_difference(top_scatter),
    )  # fmt: skip


def _drift_freedom(levels: PullLevels) -> float:
    """Degrees of freedom that heat and order took beside the setups' own levels."""
    left = len(levels.residual) - len(levels.setups) - (levels.freedom - SCATTER_FREEDOM)
    return max(0.0, left)


def _percent(log: float) -> float:
    return 100.0 * math.expm1(log)


def _mean(curves: np.ndarray) -> np.ndarray:
    known = np.isfinite(curves)
    count = known.sum(axis=0)
    return np.where(count > 0, np.nansum(curves, axis=0) / np.maximum(count, 1), np.nan)


def _shape_scatter(rpm: np.ndarray, first: np.ndarray, second: np.ndarray, bottom: float) -> float:
    """Standard deviation of the difference of shapes at one speed: what a pull's own gain does not
    explain."""
    variance = 0.0
    for curves in (first, second):
        relative = np.log(curves) - np.nanmean(np.log(curves), axis=1, keepdims=True)
        near = relative[:, np.abs(rpm - bottom) <= 100.0].mean(axis=1)
        near = near[np.isfinite(near)]
        prior = 0.004**2  # bin noise of a pull at 100 rpm, common practice
        squares = ((near - near.mean()) ** 2).sum() if near.size else 0.0
        variance += (3 * prior + squares) / (3 + max(0, near.size - 1)) / max(1, near.size)
    return math.sqrt(variance)


def _sentence(
    names: tuple[str, str],
    band: tuple[float, float],
    middle: float,
    low: float,
    high: float,
    proven: bool,
    curve: DifferenceCurve | None,
) -> str:
    a, b = names
    where = f"between {band[0]:.0f} and {band[1]:.0f} rpm"
    if proven:
        word = "more" if middle > 0 else "less"
        ends = sorted((abs(_percent(low)), abs(_percent(high))))
        return (
            f"{b} makes {abs(_percent(middle)):.1f} % {word} torque than {a} {where} ({ends[0]:.1f} to {ends[1]:.1f} %)"
        )
    most = max(abs(_percent(low)), abs(_percent(high)))
    if curve is not None and curve.differs:
        return (
            f"{_local_words(names, curve)}; no difference in the mean {where} that these pulls could show: "
            f"none larger than {most:.1f} %"
        )
    return f"no difference of {b} to {a} that these pulls could show {where}: none larger than {most:.1f} %"


def _local_words(names: tuple[str, str], curve: DifferenceCurve) -> str:
    """The point that differs most for certain, in words."""
    certain = [p for p in (curve.worst, curve.best) if p.low > 0.0 or p.high < 0.0]
    shown = max(certain or [curve.worst, curve.best], key=lambda p: abs(p.percent))
    word = "more" if shown.percent > 0.0 else "less"
    ends = sorted((abs(shown.low), abs(shown.high)))
    return (
        f"{names[1]} makes {abs(shown.percent):.1f} % {word} torque than {names[0]} at {shown.rpm:.0f} rpm "
        f"({ends[0]:.1f} to {ends[1]:.1f} %)"
    )
