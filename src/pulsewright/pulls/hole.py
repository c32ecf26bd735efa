"""Torque holes: where, how deep, how sure, and whether they repeat.

Meaning  from the session format: weather-corrected torque in unsmoothed 50 rpm bins; trend by trend.py;
         shoulders are the highest trend torque within 1500 rpm on each side of the bottom; the edges are
         where the trend falls 1 % below the lower shoulder; depth = 1 - bottom / lower shoulder; reported
         from 0.03 whose interval excludes 0.
Depth    is the mean over pulls of the depth of that pull alone, read at the places that the other pulls show
         (leave one out). Reading every pull at its own extremes would turn noise into depth.
Interval 95 %, Student's t over whole pulls. With few pulls the scatter of a single pull's depth is steadied
         by a prior of 0.6 % worth 3 degrees of freedom: bin noise of 0.4 % (common practice, no published
         source) in bottom and shoulder, less the trend's averaging, plus its correlation over neighbouring
         bins.
Repeats  a dip that too few pulls show is returned with `repeats` false and is no hole: who shows it says so
         (`counted`). `loss` reads the same dip against a smooth curve without it (hole_loss.py).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pulsewright.pulls.hole_loss import HoleLoss, hole_loss
from pulsewright.pulls.trend import trend

SHOULDER_REACH = 1500.0  # [rpm]
EDGE_FALL = 0.01  # [-]
LEAST_DEPTH = 0.03  # [-]
PRIOR_SCATTER = 0.006  # [-]
PRIOR_FREEDOM = 3.0
SAME_PLACE = 150.0  # [rpm] within which a pull's own bottom counts as the same hole


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """A local loss of torque against both sides."""

    rpm_from: float
    rpm_to: float
    rpm_bottom: float
    depth: float  # [-]
    depth_low: float  # 95 % interval
    depth_high: float
    repeats: bool
    rpm_shoulders: tuple[float, float]
    bottom_low: float  # [rpm] 95 % interval of the bottom's place, from the scatter of single pulls
    bottom_high: float
    pulls: int
    loss: HoleLoss | None = None  # against a smooth curve without the hole

    def as_json(self) -> dict[str, float | bool]:
        """The `hole` entry of an explanation, with the interval."""
        return {
            "rpm_from": round(self.rpm_from),
            "rpm_to": round(self.rpm_to),
            "rpm_bottom": round(self.rpm_bottom),
            "depth": round(self.depth, 3),
            "depth_low": round(self.depth_low, 3),
            "depth_high": round(self.depth_high, 3),
            "repeats": self.repeats,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Indices of a hole's bottom and shoulders on a curve, and its depth under the lower shoulder."""

    bottom: int
    left: int
    right: int
    depth: float


def find_hole(rpm: np.ndarray, torques: np.ndarray) -> Hole | None:
    """Deepest hole of one setup, or None where none is deep and sure enough.

    rpm : (n_bin,) bin centres [rpm]. torques : (n_pull, n_bin) corrected torque [N m], NaN where empty.
    """
    hole = deepest_dip(rpm, torques)
    if hole is None or hole.depth < LEAST_DEPTH or hole.depth_low <= 0.0:
        return None
    return hole


def counted(hole: Hole | None) -> Hole | None:
    """The hole if it repeats, else None: what one pull alone shows is no hole."""
    return hole if hole is not None and hole.repeats else None


def deepest_dip(rpm: np.ndarray, torques: np.ndarray) -> Hole | None:
    """Deepest dip whatever its depth and certainty; None where the curve has none."""
    relative = torques / np.nanmean(torques, axis=1, keepdims=True)
    trends = np.vstack([trend(rpm, row) for row in relative])
    level = float(np.nanmean(torques))
    mean = _mean(trends)
    place = deepest_place(rpm, mean)
    if place is None or place.depth <= 0.0:
        return None
    depths = _left_out_depths(rpm, trends)
    if not depths.size:
        return None
    depth, low, high = _interval(depths)
    low_edge, high_edge = _edges(rpm, mean, place)
    bottom = _vertex(rpm, mean, place.bottom)
    own = _own_bottoms(rpm, trends, place)
    spread = _bottom_spread(own)
    return Hole(
        rpm_from=low_edge,
        rpm_to=high_edge,
        rpm_bottom=bottom,
        depth=depth,
        depth_low=low,
        depth_high=high,
        repeats=_repeats(depths, own, bottom, level),
        rpm_shoulders=(float(rpm[place.left]), float(rpm[place.right])),
        bottom_low=bottom - spread,
        bottom_high=bottom + spread,
        pulls=len(torques),
        loss=hole_loss(rpm, torques, (float(rpm[place.left]), float(rpm[place.right]))),
    )


def _mean(curves: np.ndarray) -> np.ndarray:
    """Mean over pulls where at least half of them reach; NaN elsewhere."""
    count = np.isfinite(curves).sum(axis=0)
    total = np.nansum(curves, axis=0)
    return np.where(count >= max(1, (len(curves) + 1) // 2), total / np.maximum(count, 1), np.nan)


def deepest_place(rpm: np.ndarray, curve: np.ndarray) -> Place | None:
    """The deepest dip between shoulders within reach; its depth is below 0 where there is none.

    rpm, curve : (n_bin,) a smooth curve, NaN where it is not known.
    """
    known = np.flatnonzero(np.isfinite(curve))
    best: Place | None = None
    for i in known[1:-1]:
        left = known[(known < i) & (rpm[known] >= rpm[i] - SHOULDER_REACH)]
        right = known[(known > i) & (rpm[known] <= rpm[i] + SHOULDER_REACH)]
        if not left.size or not right.size:
            continue
        low = int(left[np.argmax(curve[left])])
        high = int(right[np.argmax(curve[right])])
        depth = 1.0 - float(curve[i] / min(curve[low], curve[high]))
        if best is None or depth > best.depth:
            best = Place(bottom=int(i), left=low, right=high, depth=depth)
    return best


def _left_out_depths(rpm: np.ndarray, trends: np.ndarray) -> np.ndarray:
    """Depth of every pull at the places found in the others; a lone pull is read at its own. (n_pull,)"""
    depths = []
    for k in range(len(trends)):
        others = np.delete(trends, k, axis=0) if len(trends) > 1 else trends
        place = deepest_place(rpm, _mean(others))
        if place is None:
            continue
        at = trends[k, [place.bottom, place.left, place.right]]
        if np.isfinite(at).all():
            depths.append(1.0 - at[0] / min(at[1], at[2]))
    return np.array(depths)


def _interval(depths: np.ndarray) -> tuple[float, float, float]:
    from scipy.stats import t

    middle = float(depths.mean())
    freedom = PRIOR_FREEDOM + depths.size - 1
    scatter = math.sqrt((PRIOR_FREEDOM * PRIOR_SCATTER**2 + ((depths - middle) ** 2).sum()) / freedom)
    half = float(t.ppf(0.975, freedom)) * scatter / math.sqrt(depths.size)
    return middle, middle - half, middle + half


def _edges(rpm: np.ndarray, curve: np.ndarray, place: Place) -> tuple[float, float]:
    """Speeds where the trend crosses 1 % below the lower shoulder, going out from the bottom."""
    line = (1.0 - EDGE_FALL) * min(curve[place.left], curve[place.right])
    edges = []
    for step, stop in ((-1, place.left), (1, place.right)):
        i = place.bottom
        while i != stop and curve[i] < line:
            i += step
        inner = i - step
        share = (line - curve[inner]) / (curve[i] - curve[inner]) if curve[i] > curve[inner] else 1.0
        edges.append(float(rpm[inner] + min(max(share, 0.0), 1.0) * (rpm[i] - rpm[inner])))
    return edges[0], edges[1]


def _vertex(rpm: np.ndarray, curve: np.ndarray, bottom: int) -> float:
    """Lowest point between bins, by a parabola through three bins around the lowest one."""
    if not 0 < bottom < rpm.size - 1 or not np.isfinite(curve[bottom - 1 : bottom + 2]).all():
        return float(rpm[bottom])
    a, b, c = curve[bottom - 1 : bottom + 2]
    bend = a - 2 * b + c
    if bend <= 0.0:
        return float(rpm[bottom])
    shift = min(max(0.5 * (a - c) / bend, -0.5), 0.5)
    return float(rpm[bottom] + shift * (rpm[bottom + 1] - rpm[bottom]))


def _own_bottoms(rpm: np.ndarray, trends: np.ndarray, place: Place) -> np.ndarray:
    """Lowest speed of every pull between the common shoulders. (n_pull,) [rpm]"""
    inner = slice(place.left, place.right + 1)
    found = []
    for row in trends:
        if np.isfinite(row[inner]).any():
            found.append(_vertex(rpm, row, place.left + int(np.nanargmin(row[inner]))))
    return np.array(found)


def _bottom_spread(own: np.ndarray) -> float:
    from scipy.stats import t

    if own.size < 2:
        return SAME_PLACE
    return float(t.ppf(0.975, own.size - 1) * own.std(ddof=1) / math.sqrt(own.size))


def _repeats(depths: np.ndarray, own: np.ndarray, bottom: float, level: float) -> bool:
    """True when two pulls at least, and two thirds of all, show half the depth at the same place."""
    if depths.size < 2 or level <= 0.0:
        return False
    shown = depths > 0.5 * depths.mean()
    near = np.abs(own - bottom) <= SAME_PLACE
    enough = max(2, math.ceil(2 * depths.size / 3))
    return bool(shown.sum() >= enough and near.sum() >= min(enough, own.size))
