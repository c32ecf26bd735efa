"""Sessions drawn from what the bands claim: three scatters, each from its prior, and a straight drift.

The mean of a pull scatters as its prior says, and goes with the noise of its bins as far as noise makes it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from pulsewright.pulls.difference_curve import DifferenceCurve, difference_curve, draw_differences, shapes
from pulsewright.pulls.level_difference import LevelDifference, level_difference
from pulsewright.pulls.scatter_prior import ScatterPrior

RPM = 2000.0 + 50.0 * np.arange(41)
BAND = (2000.0, 4000.0)
TORQUE = 50.0 + 5.0 * np.sin(RPM / 900.0)  # the same for every setup: any difference found is a false one


@dataclass(frozen=True, kw_only=True)
class Shop:
    """A shop whose sessions are drawn."""

    order: str  # a letter a pull
    usual: ScatterPrior
    refitted: bool = False  # every change of setup takes the machine apart
    drift: float = -0.003  # [1/pull]
    scale: float | None = None  # every scatter this many times the usual one; None: drawn from the prior


@dataclass(frozen=True, kw_only=True)
class Seen:
    """What a comparison of A and B made of one session."""

    curve: DifferenceCurve
    level: LevelDifference

    @property
    def whole(self) -> bool:
        """The band holds the truth, no difference, at every speed."""
        return bool(((self.curve.low <= 0.0) & (self.curve.high >= 0.0)).all())

    @property
    def pointwise(self) -> bool:
        """Bands for one speed would hold it at every speed."""
        return bool((np.abs(self.curve.log) <= self.curve.pointwise * self.curve.log_sd).all())

    @property
    def mean(self) -> bool:
        """The interval of the mean holds it."""
        return abs(self.level.mean) <= self.level.half_width(0.95)


def seen(shop: Shop, random: np.random.Generator, *, draws: int) -> Seen:
    """One session of a shop, compared."""
    setup = list(shop.order)
    names = np.array(setup)
    log, assembly = _logs(shop, random)
    prior = _of_means(shop.usual)
    torque = {name: np.exp(log[names == name]) for name in setup}
    others = [rows for name, rows in torque.items() if name not in "AB"]
    shape = shapes(RPM, torque["A"], torque["B"], others, span=BAND, prior=prior)
    assert shape is not None
    level = level_difference(log.mean(axis=1), setup, ("A", "B"), assembly=assembly, prior=prior)
    drawn = draw_differences(shape, level, count=draws, seed=int(random.integers(2**31)))
    return Seen(curve=difference_curve(shape, level, drawn), level=level)


def _logs(shop: Shop, random: np.random.Generator) -> tuple[np.ndarray, np.ndarray | None]:
    """Log torque of every pull, and the assembly of each. (n_pull, n_bin)"""
    usual, count = shop.usual, len(shop.order)
    total = _of_means(usual).gain
    gain, refit, noise = (_scatter(s, shop, random) for s in (total, usual.refit, usual.noise))
    alike = _alike(usual)
    rough = noise * random.standard_normal((count, RPM.size)) @ np.linalg.cholesky(alike).T
    mean = rough.mean(axis=1)
    share = (usual.noise / total) ** 2 * alike.mean()  # of the noise in what a pull's mean scatters by
    own = math.sqrt(share) * mean / (noise * math.sqrt(alike.mean()))
    own += math.sqrt(1.0 - share) * random.standard_normal(count)
    log = np.log(TORQUE) + rough + (gain * own - mean + shop.drift * np.arange(count))[:, None]
    if not shop.refitted:
        return log, None
    assembly = np.cumsum([0, *(a != b for a, b in zip(shop.order[:-1], shop.order[1:], strict=True))])
    return log + (refit * random.standard_normal(count))[assembly][:, None], assembly


def _scatter(usual: float, shop: Shop, random: np.random.Generator) -> float:
    if shop.scale is not None:
        return usual * shop.scale
    return usual * math.sqrt(shop.usual.freedom / random.chisquare(shop.usual.freedom))


def _alike(usual: ScatterPrior) -> np.ndarray:
    return np.exp(-np.abs(np.subtract.outer(RPM, RPM)) / usual.noise_length)


def _of_means(usual: ScatterPrior) -> ScatterPrior:
    """The same prior with what noise adds to the mean of a pull counted to its gain."""
    return replace(usual, gain=math.hypot(usual.gain, usual.noise * math.sqrt(_alike(usual).mean())))
