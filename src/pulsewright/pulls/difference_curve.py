"""Difference of two setups as a curve over engine speed, with a band that holds the whole curve.

Two parts  the level, which all speeds share (gain of a pull, assembly, heat, drift: level_difference.py), and
         the shape: every pull's log torque along its trend (trend.py, 300 rpm to each side) less its own mean
         over the band, from which all that is shared has dropped out. Whole pulls are the unit of both.
Scatter  of shapes: covariance of one pull around the mean of its setup, pooled over all setups of the
         session, with a prior for 50 rpm bins, carried through trend and centring
         (scatter_prior.py).
Band     4,000 draws of level and shape (simultaneous_band.py) around the estimate; the band is as many
         standard deviations wide as holds 95 % of the drawn curves whole.
Local    or broad: whether the shape alone leaves its own band, whatever the level does.
Claim    95 of 100 sessions of shops that scatter as scatter_prior.py says; 94.5 to 95.7 were found in 5,000
         sessions each of twelve kinds (tests/unit/pulls/test_coverage_study.py). That level and shape of a pull
         may go together is left out; the study has it in and finds no harm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pulsewright.pulls.level_difference import LevelDifference
from pulsewright.pulls.scatter_prior import USUAL, ScatterPrior, believed_noise
from pulsewright.pulls.simultaneous_band import LEVEL, critical_value, pooled_covariance, roughness, t_curves
from pulsewright.pulls.trend import trend, trend_matrix

DRAWS = 2_000
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
    freedom: float  # degrees of freedom of the scatter of shapes
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
class Shapes:
    """Difference of shapes over the bins that every pull of both setups holds; its mean over the band is 0."""

    rpm: np.ndarray  # (n_bin,)
    band: np.ndarray  # (n_bin,) bool, bins of the band
    difference: np.ndarray  # (n_bin,) log of second over first
    covariance: np.ndarray  # (n_bin, n_bin) of the difference
    prior_freedom: float
    pull_freedom: int

    @property
    def freedom(self) -> float:
        """Degrees of freedom of the scatter."""
        return self.prior_freedom + self.pull_freedom


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Draws:
    """What level and shape together may be: the difference around its estimate."""

    middle: np.ndarray  # (n_bin,) log of second over first
    off: np.ndarray  # (n_draw, n_bin)
    sd: np.ndarray  # (n_bin,)

    def point(self, weight: np.ndarray, rpm: float) -> Point:
        """A weighted mean of bins with its 95 % interval. weight : (n_bin,)"""
        middle = float(weight @ self.middle)
        half = float(np.quantile(np.abs(self.off @ weight), LEVEL))
        return _point(rpm, middle, middle - half, middle + half)

    def half_width(self, inside: float) -> np.ndarray:
        """Half of the interval that holds the difference at one speed with probability `inside`. (n_bin,)"""
        return np.quantile(np.abs(self.off), inside, axis=0)


def shapes(
    rpm: np.ndarray,
    first: np.ndarray,
    second: np.ndarray,
    others: list[np.ndarray],
    *,
    span: tuple[float, float],
    prior: ScatterPrior = USUAL,
) -> Shapes | None:
    """Shapes over the speeds that every pull of both setups holds; None under 3 bins in `span`.

    rpm : (n_bin,). first, second, others : torque, (n_pull, n_bin) a setup [N m].
    """
    filled = np.asarray(np.isfinite(np.vstack([first, second])).all(axis=0))
    smooth = trend_matrix(rpm.astype(float), filled)
    use = filled & np.isfinite(smooth).all(axis=1)
    band = (rpm >= span[0]) & (rpm <= span[1])
    if (use & band).sum() < 3:
        return None
    inside = band[use]
    centre = np.eye(use.sum()) - inside / inside.sum()
    curves = [_trended(rpm, each, use) @ centre.T for each in (first, second, *others)]
    rest = [kept for each in curves[2:] if len(kept := each[np.isfinite(each).all(axis=1)]) > 1]
    noise = believed_noise(rpm[filled], prior)
    rows = centre @ smooth[np.ix_(use, filled)]
    covariance, freedom = pooled_covariance(
        [*curves[:2], *rest], prior=rows @ noise @ rows.T, prior_freedom=prior.freedom
    )
    return Shapes(
        rpm=rpm[use],
        band=inside,
        difference=curves[1].mean(axis=0) - curves[0].mean(axis=0),
        covariance=covariance * (1.0 / len(first) + 1.0 / len(second)),
        prior_freedom=prior.freedom,
        pull_freedom=round(freedom - prior.freedom),
    )


def draw_differences(shape: Shapes, level: LevelDifference, *, count: int = DRAWS, seed: int = 1) -> Draws:
    """Draws of the whole difference, shape and level."""
    random = np.random.default_rng(seed)
    curves = t_curves(
        shape.covariance, count, prior_freedom=shape.prior_freedom, pull_freedom=shape.pull_freedom, random=random
    )
    wide = shape.freedom / (shape.freedom - 2.0)  # variance of Student's t
    return Draws(
        middle=level.mean + shape.difference,
        off=level.draws(random, count)[:, None] - level.mean + curves,
        sd=np.sqrt(level.variance + wide * np.diag(shape.covariance)),
    )


def difference_curve(shape: Shapes, level: LevelDifference, draws: Draws) -> DifferenceCurve:
    """The curve over the band with its simultaneous band, its extremes, and whether it is broad or local."""
    band = shape.band
    middle, sd, off = draws.middle[band], draws.sd[band], draws.off[:, band]
    critical = float(np.quantile(np.abs(off / sd).max(axis=1), LEVEL))
    low, high = middle - critical * sd, middle + critical * sd
    rpm = shape.rpm[band]
    points = [_point(float(rpm[k]), middle[k], low[k], high[k]) for k in (int(middle.argmin()), int(middle.argmax()))]
    percent, lowest, highest = (100.0 * np.expm1(each) for each in (middle, low, high))
    return DifferenceCurve(
        rpm=rpm, percent=percent, low=lowest, high=highest, log=middle, log_sd=sd, critical=critical,
        pointwise=float(np.mean(draws.half_width(LEVEL)[band] / sd)), freedom=shape.freedom,
        worst=points[0], best=points[1], differs=_stretches(rpm, (low > 0.0) | (high < 0.0)),
        kind=_kind(shape, level, low > 0.0, high < 0.0),
    )  # fmt: skip


def _point(rpm: float, middle: float, low: float, high: float) -> Point:
    percent, lowest, highest = (100.0 * math.expm1(each) for each in (middle, low, high))
    return Point(rpm=rpm, percent=percent, low=lowest, high=highest)


def _trended(rpm: np.ndarray, curves: np.ndarray, use: np.ndarray) -> np.ndarray:
    return np.vstack([trend(rpm, np.log(row))[use] for row in curves])


def _kind(shape: Shapes, level: LevelDifference, above: np.ndarray, below: np.ndarray) -> str:
    if max(above.mean(), below.mean()) >= BROAD_SHARE:
        return "broad"
    if _shape_shows(shape):
        return "local"
    return "broad" if abs(level.mean) > level.half_width(LEVEL) else "none"


def _shape_shows(shape: Shapes) -> bool:
    inside = shape.covariance[np.ix_(shape.band, shape.band)]
    critical = critical_value(roughness(inside), shape.freedom, bins=len(inside))
    return bool((np.abs(shape.difference[shape.band]) > critical * np.sqrt(np.diag(inside))).any())


def _stretches(rpm: np.ndarray, inside: np.ndarray) -> tuple[tuple[float, float], ...]:
    """Runs of neighbouring bins that are inside. [rpm]"""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], inside, [False]]).astype(int)))
    return tuple((float(rpm[a]), float(rpm[b - 1])) for a, b in zip(edges[::2], edges[1::2], strict=True))
