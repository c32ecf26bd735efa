"""Difference of two setups, with whole pulls as the unit and heat and drift taken out.

The intervals hold the scatter of pulls and the doubt about heat and drift; where the change touches intake,
exhaust or something not on the sheet they also hold the refit: strapping down and putting parts together
again, estimated where a setup was put together more than once, else as usual (scatter_prior.py). A change of
jets alone leaves the machine as it stands.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pulsewright.pulls.difference_curve import (
    DifferenceCurve,
    Draws,
    Point,
    Shapes,
    difference_curve,
    draw_differences,
    shapes,
)
from pulsewright.pulls.equivalence import INSIDE, Equivalence, equivalence
from pulsewright.pulls.level_difference import LevelDifference
from pulsewright.pulls.simultaneous_band import LEVEL

TOP_SPAN = 500.0  # [rpm] the top end: the last speeds that every pull of both reaches


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
    proven: bool  # the interval of the mean leaves 0 out
    rpm: np.ndarray  # (n_bin,)
    curve_percent: np.ndarray  # (n_bin,) unsmoothed
    text: str
    level: LevelDifference  # of the mean, in logs
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
            "top_percent": self.top and round(self.top.percent, 2), "text": self.text,
        }  # fmt: skip


def compare(
    rpm: np.ndarray,
    first: np.ndarray,
    second: np.ndarray,
    *,
    names: tuple[str, str],
    level: LevelDifference,
    band: tuple[float, float],
    bottom: float | None,
    refit: bool,
    others: list[np.ndarray] | None = None,
) -> Comparison:
    """Compare two setups.

    rpm : (n_bin,) [rpm]. first, second : (n_pull, n_bin) corrected torque [N m]. level : of their mean over
    the band. bottom : speed of the hole in the first [rpm], None without one. refit : parts were taken apart
    between them. others : torque of the session's other setups, for their scatter.
    """
    half = level.half_width(LEVEL)
    low, high = level.mean - half, level.mean + half
    proven = low > 0.0 or high < 0.0
    shape = shapes(rpm, first, second, others or [], span=band)
    draws = shape and draw_differences(shape, level)
    over = shape and draws and difference_curve(shape, level, draws)
    there = _at(shape, draws, bottom) if shape and draws and bottom is not None else None
    raw = _mean_log(second) - _mean_log(first)
    inside = (rpm >= band[0]) & (rpm <= band[1])
    return Comparison(
        first=names[0], second=names[1], band=band,
        mean_percent=_percent(level.mean), mean_low=_percent(low), mean_high=_percent(high),
        bottom_rpm=there and there.rpm, bottom_percent=there and there.percent,
        bottom_low=there and there.low, bottom_high=there and there.high, proven=proven,
        rpm=rpm, curve_percent=100.0 * np.expm1(raw - np.nanmean(raw[inside]) + level.mean),
        text=_sentence(names, band, level.mean, low, high, proven, over),
        level=level, refit=refit, curve=over,
        equivalence=_ruled_out(band, level, shape, draws) if shape and draws else None,
        top=_top(shape, draws) if shape and draws else None,
    )  # fmt: skip


def _at(shape: Shapes, draws: Draws, rpm: float) -> Point | None:
    """The difference at one speed; None where not every pull reaches it."""
    if not shape.rpm[0] <= rpm <= shape.rpm[-1]:
        return None
    weight = np.array([np.interp(rpm, shape.rpm, unit) for unit in np.eye(shape.rpm.size)])
    return draws.point(weight, rpm)


def _top(shape: Shapes, draws: Draws) -> Point:
    """Mean over the top end."""
    end = shape.rpm >= shape.rpm[-1] - TOP_SPAN
    return draws.point(end / end.sum(), float(shape.rpm[end][0]))


def _ruled_out(band: tuple[float, float], level: LevelDifference, shape: Shapes, draws: Draws) -> Equivalence:
    return equivalence(
        band,
        mean=(level.mean, level.half_width(INSIDE)),
        curve=(draws.middle[shape.band], draws.half_width(INSIDE)[shape.band]),
    )


def _mean_log(curves: np.ndarray) -> np.ndarray:
    known = np.isfinite(curves)
    count = known.sum(axis=0)
    total = np.where(known, np.log(np.where(known, curves, 1.0)), 0.0).sum(axis=0)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _percent(log: float) -> float:
    return 100.0 * math.expm1(log)


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
