"""What a hole takes from a smooth curve without it: place, depth and width at half depth, with intervals.

Bridge   cubic through the log of torque on both sides of the hole, from 0.8 widths off its middle on for 700 rpm;
         a parabola where a side has under four bins. What the hole still takes there (17 % of its depth, and
         less) is put back first as a bell of the depth and width that are being read; both are read again
         until they stay. It is the curve the engine might have without the hole, no more: where the sides
         themselves are low or high, so is it.
Trend    trend.py run a second time over what it left (twicing; J. W. Tukey, Exploratory Data Analysis, 1977,
         from memory), which keeps 99 % of a bell 500 rpm wide.
Interval 95 %: the same is read from curves drawn around the mean of the pulls. Their scatter is that of one
         pull around the mean, the gain of whole pulls left out, with a prior (scatter_prior.py).
Not for  dips with a foot at the end of the pull: a bridge with one foot says little, and its interval is wide.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pulsewright.pulls.scatter_prior import USUAL, believed_noise
from pulsewright.pulls.simultaneous_band import LEVEL, pooled_covariance, t_curves
from pulsewright.pulls.trend import trend_matrix

FEET_FROM = 0.8  # widths off the middle
FOOT_LENGTH = 700.0  # [rpm]
FOOT = 4  # bins on a side that hold a cubic
ROUNDS = 8
DRAWS = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A value with its 95 % interval."""

    value: float
    low: float
    high: float

    def as_json(self, digits: int) -> dict[str, float]:
        """Plain values."""
        return {key: round(getattr(self, key), digits) for key in ("value", "low", "high")}


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleLoss:
    """A hole against the smooth curve without it."""

    rpm: Reading  # [rpm] where the loss is greatest
    loss: Reading  # [-] there
    width: Reading  # [rpm] between the speeds of half that loss

    def as_json(self) -> dict[str, object]:
        """Plain values."""
        return {"rpm": self.rpm.as_json(0), "loss": self.loss.as_json(3), "width_rpm": self.width.as_json(0)}


def hole_loss(rpm: np.ndarray, torques: np.ndarray, shoulders: tuple[float, float]) -> HoleLoss | None:
    """Read a hole between its shoulders [rpm]; None where no pull holds all of it.

    rpm : (n_bin,). torques : (n_pull, n_bin) any unit, NaN where there is none.
    """
    inside = (rpm >= shoulders[0]) & (rpm <= shoulders[1])
    whole = np.isfinite(torques[:, inside]).all(axis=1)
    known = np.isfinite(torques[whole]).all(axis=0)
    if not whole.any() or known.sum() < inside.sum() + 2:
        return None
    speeds, logs = rpm[known].astype(float), np.log(torques[whole][:, known])
    smooth = _twiced(speeds)
    logs = logs @ smooth.T
    within = inside[known]
    mean = logs.mean(axis=0)
    bridge = _bridge(speeds, shoulders)
    found = _read_over(speeds, mean, within, bridge, np.zeros(3))
    for _ in range(ROUNDS):
        bridge = _bridge(speeds, (found[0] - FEET_FROM * found[2], found[0] + FEET_FROM * found[2]))
        found = _read_over(speeds, mean, within, bridge, found)

    def read(curve: np.ndarray) -> np.ndarray:
        again = found
        for _ in range(ROUNDS // 2):
            again = _read_over(speeds, curve, within, bridge, again)
        return again

    found = read(mean)
    off = _drawn(speeds, logs, smooth)
    half = np.quantile(np.abs([read(mean + each) - found for each in off]), LEVEL, axis=0)
    place, depth, width = (Reading(value=v, low=v - h, high=v + h) for v, h in zip(found, half, strict=True))
    return HoleLoss(rpm=place, loss=depth, width=width)


def _twiced(rpm: np.ndarray) -> np.ndarray:
    once = trend_matrix(rpm, np.ones(rpm.size, dtype=bool))
    return 2.0 * once - once @ once


def _bridge(rpm: np.ndarray, feet: tuple[float, float]) -> np.ndarray:
    """Maps the log of a curve to its bridge with feet from these speeds outwards, two bins each at least."""
    left_foot, right_foot = max(feet[0], rpm[1]), min(feet[1], rpm[-2])
    left = (rpm <= left_foot) & (rpm >= left_foot - FOOT_LENGTH)
    right = (rpm >= right_foot) & (rpm <= right_foot + FOOT_LENGTH)
    degree = 3 if min(left.sum(), right.sum()) >= FOOT else 2
    powers = np.vander((rpm - rpm.mean()) / np.ptp(rpm), degree + 1)
    bridge = np.zeros((rpm.size, rpm.size))
    bridge[:, left | right] = powers @ np.linalg.pinv(powers[left | right])
    return bridge


def _read_over(
    rpm: np.ndarray, curve: np.ndarray, within: np.ndarray, bridge: np.ndarray, before: np.ndarray
) -> np.ndarray:
    """Place, loss and width of a log curve over its bridge, what the hole read `before` takes at the feet put back."""
    place, loss, width = before
    bell = np.exp(-4.0 * math.log(2.0) * ((rpm - place) / width) ** 2) if width else 0.0 * rpm
    full = curve - np.log1p(-min(max(loss, 0.0), 0.9) * bell)
    return np.array(_read(rpm[within], -np.expm1((curve - bridge @ full)[within])))


def _drawn(rpm: np.ndarray, logs: np.ndarray, smooth: np.ndarray) -> np.ndarray:
    """How far the mean of the pulls may lie from the truth, the gain of whole pulls left out. (n_draw, n_bin)"""
    centre = np.eye(rpm.size) - 1.0 / rpm.size
    rows = centre @ smooth
    prior = rows @ believed_noise(rpm, USUAL) @ rows.T
    covariance, _ = pooled_covariance([logs @ centre], prior=prior, prior_freedom=USUAL.freedom)
    return t_curves(
        covariance / len(logs), DRAWS, prior_freedom=USUAL.freedom, pull_freedom=len(logs) - 1,
        random=np.random.default_rng(1),
    )  # fmt: skip


def _read(rpm: np.ndarray, loss: np.ndarray) -> tuple[float, float, float]:
    """Speed of the greatest loss, the loss, and the width at half of it. [rpm], [-], [rpm]"""
    k = int(loss.argmax())
    place, deepest = float(rpm[k]), float(loss[k])
    if 0 < k < rpm.size - 1:
        a, b, c = loss[k - 1 : k + 2]
        shift = 0.5 * (a - c) / (a - 2.0 * b + c) if a - 2.0 * b + c < 0.0 else 0.0
        place += shift * float(rpm[k + 1] - rpm[k])
        deepest -= 0.25 * (a - c) * shift
    return place, deepest, _side(rpm[k:], loss[k:], deepest) + _side(rpm[k::-1], loss[k::-1], deepest)


def _side(rpm: np.ndarray, loss: np.ndarray, deepest: float) -> float:
    """Distance from the first speed to where half of the loss is left; to the shoulder where it stays more."""
    under = np.flatnonzero(loss < 0.5 * deepest)
    if not under.size or under[0] == 0:
        return float(abs(rpm[-1] - rpm[0]))
    k = int(under[0])
    share = (loss[k - 1] - 0.5 * deepest) / (loss[k - 1] - loss[k])
    return float(abs(rpm[k - 1] - rpm[0]) + share * abs(rpm[k] - rpm[k - 1]))
