"""What a change would do: the model's change, draw by draw, laid on what the pulls measured.

Torque is the measured torque times what the change does to it in the model; lambda is what the sensor reads
times what the change does, for the leanest cylinder. So what the model gets wrong of the machine as it is falls
out; what it gets wrong of the change stays, and is in the intervals as `doubt`.
Knock is judged against what the pulls have stood, in any setup: the model's delay to self-ignition holds to 30 %
(knock_delay.py), so its absolute margin says little, and the highest end-gas integral so far is the mark.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pulsewright.pulls.hole import deepest_place
from pulsewright.remedies.interval import HALF_OF_80, Interval, interval, spread
from pulsewright.remedies.reference import Reference
from pulsewright.remedies.trials import TrialCurves

# Standard deviations, assumed until many judged pulls tell better: what the model's change may be off by, at
# least, and as a share of the change; and how much draws usually differ where few were run.
TORQUE_DOUBT, TORQUE_SHARE, TORQUE_USUAL = 0.008, 0.25, 0.015
LAMBDA_DOUBT, LAMBDA_SHARE, LAMBDA_USUAL = 0.006, 0.25, 0.010
KNOCK_DOUBT, KNOCK_SHARE, KNOCK_USUAL = 0.01, 0.30, 0.020  # 30 % is what the delay is good for
DEPTH_DOUBT, DEPTH_USUAL = 0.012, 0.015
SHOWN_HOLE = 0.03  # depth below which a dip is no hole, as in the pulls


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Forecast:
    """Outcome of one change with 80 % intervals. Curves are on the bins of its reference."""

    gain: Interval  # [%] of torque, mean over the riding band
    bottom: Interval | None  # [%] at the bottom of today's hole
    hole: Interval  # depth left [-]
    hole_rpm: float | None  # [rpm] where it then lies; None: no hole of 3 %
    top: Interval  # [%] of torque at the top end, below 0 = cost
    leanest: Interval | None  # highest lambda of the leanest cylinder, sensor margin not added; None: unknown
    leanest_rpm: float | None
    knock: Interval  # [%] highest end-gas integral over the highest that the pulls have stood
    knock_rpm: float
    torque: np.ndarray  # (bins,) [N m]
    torque_sd: np.ndarray  # (bins,) of a curve without noise of pulls
    sensor: np.ndarray  # (bins,) lambda that the sensor would read
    sensor_sd: np.ndarray  # (bins,)
    lean_high: np.ndarray  # (bins,) upper end of the leanest cylinder's lambda; nan where unknown
    leaning_high: np.ndarray  # (bins,) upper end of lambda over lambda before, of the leanest cylinder
    knock_high: np.ndarray  # (bins,) upper end of the end-gas integral over the highest that the pulls have stood
    integral_high: np.ndarray  # (bins,) upper end of the end-gas integral itself
    no_answer: np.ndarray  # (bins,) True where the model gave none
    draws: int


def forecast(
    reference: Reference, before: TrialCurves, after: TrialCurves, bias: np.ndarray, stood: np.ndarray | None = None
) -> Forecast:
    """Forecast of a change from the same draws before and after it.

    bias : (draws,) what the sensor reads high. stood : (draws, speeds) highest end-gas integral of other setups
    that were pulled, at the speeds of `before`.
    """
    at = reference.rpm
    gap = _gaps(before, at) | _gaps(after, at)
    ratio = _on(after.torque / before.torque, before.rpm, at)
    lean = _on(after.leanest / before.leanest, before.rpm, at)
    seen = _on(_sensor_ratio(before, after), before.rpm, at)
    leanest = (reference.mixture - bias[:, None]) * _on(after.leanest / _seen(before), before.rpm, at)
    most = before.knock if stood is None else np.fmax(before.knock, stood)
    integral, so_far = _on(after.knock, before.rpm, at), _on(most, before.rpm, at)
    mark = np.max(so_far, axis=1, keepdims=True)
    hole, hole_rpm = _hole(reference, ratio)
    lean_high = _upper(leanest, _doubt(lean, LAMBDA_DOUBT, LAMBDA_SHARE), LAMBDA_USUAL, reference.mixture_sd)
    rise = _doubt(integral / mark, KNOCK_DOUBT, KNOCK_SHARE, base=so_far / mark)
    knock_high = _upper(integral / mark, rise, KNOCK_USUAL)
    known = reference.mixture_known
    worst = int(np.nanargmax(np.where(known, lean_high, np.nan))) if known.any() else None
    hardest = int(np.argmax(np.mean(integral / mark, axis=0)))
    torque_sd = np.hypot(spread(ratio, TORQUE_USUAL), _doubt(ratio, TORQUE_DOUBT, TORQUE_SHARE))
    seen_sd = np.hypot(spread(seen, LAMBDA_USUAL), _doubt(seen, LAMBDA_DOUBT, LAMBDA_SHARE)) * reference.mixture
    return Forecast(
        gain=_gain(ratio[:, reference.band]),
        bottom=_gain(ratio[:, [_nearest(at, reference.bottom)]]) if reference.bottom is not None else None,
        hole=hole,
        hole_rpm=hole_rpm,
        top=_gain(ratio[:, reference.top]),
        leanest=None if worst is None else _about(float(leanest[:, worst].mean()), float(lean_high[worst])),
        leanest_rpm=None if worst is None else float(at[worst]),
        knock=_percent(np.max(integral / mark, axis=1) - 1.0, KNOCK_USUAL, KNOCK_DOUBT, KNOCK_SHARE),
        knock_rpm=float(at[hardest]),
        torque=reference.torque * ratio.mean(axis=0),
        torque_sd=reference.torque * torque_sd,
        sensor=np.where(reference.mixture_known, reference.mixture * seen.mean(axis=0), np.nan),
        sensor_sd=np.hypot(seen_sd, reference.mixture_sd),
        lean_high=np.where(known, lean_high, np.nan),
        leaning_high=_upper(lean, _doubt(lean, LAMBDA_DOUBT, LAMBDA_SHARE), LAMBDA_USUAL),
        knock_high=knock_high,
        integral_high=_upper(integral, rise * mark.mean(), KNOCK_USUAL),
        no_answer=gap,
        draws=len(ratio),
    )


def usable_draws(before: TrialCurves) -> np.ndarray:
    """Draws whose machine as it is can be computed at every speed. (draws,) bool"""
    return np.all([np.isfinite(t).all(axis=1) for t in (before.torque, before.leanest, before.knock)], axis=0)


def _seen(curves: TrialCurves) -> np.ndarray:
    """What the sensor reads; without one on the sheet, what all cylinders together have."""
    return np.where(np.isfinite(curves.sensor), curves.sensor, curves.trapped)


def _sensor_ratio(before: TrialCurves, after: TrialCurves) -> np.ndarray:
    """What the sensor will read over what it reads; a sensor that the change removes is left out."""
    there = np.isfinite(before.sensor) & np.isfinite(after.sensor)
    return np.where(there, after.sensor / before.sensor, after.trapped / before.trapped)


def _on(values: np.ndarray, speeds: np.ndarray, at: np.ndarray) -> np.ndarray:
    """Rows over speeds, on bins; a speed without an answer is bridged, and marked by `_gaps`. (draws, bins)"""
    from scipy.interpolate import PchipInterpolator

    if np.isfinite(values).all():
        inside = np.clip(at, speeds[0], speeds[-1])
        return np.asarray(PchipInterpolator(speeds, values, axis=1)(inside))
    rows = []
    for row in values:
        there = np.isfinite(row)
        if there.sum() < 2:
            rows.append(np.ones(at.shape))
            continue
        inside = np.clip(at, speeds[there][0], speeds[there][-1])
        rows.append(PchipInterpolator(speeds[there], row[there])(inside))
    return np.array(rows)


def _gaps(curves: TrialCurves, at: np.ndarray) -> np.ndarray:
    """True at bins next to a speed at which any draw gave no answer. (bins,)"""
    failed = ~np.isfinite(curves.torque + curves.leanest + curves.knock).all(axis=0)
    return np.interp(at, curves.rpm, failed.astype(float)) > 0.0


def _doubt(ratio: np.ndarray, least: float, share: float, base: np.ndarray | float = 1.0) -> np.ndarray:
    """Standard deviation of the model's change: a share of it, here or over all speeds, since it may lie elsewhere."""
    change = (ratio - base).mean(axis=0)
    return np.hypot(least, share * np.maximum(np.abs(change), np.sqrt(np.mean(change**2))))


def _upper(draws: np.ndarray, doubt: np.ndarray, usual: float, more: np.ndarray | float = 0.0) -> np.ndarray:
    """Upper end of the 80 % interval at every bin. (bins,)"""
    sd = np.sqrt(spread(draws, usual) ** 2 + doubt**2 + np.square(more))
    return draws.mean(axis=0) + HALF_OF_80 * sd


def _gain(ratio: np.ndarray) -> Interval:
    """Change of torque in per cent over some bins."""
    return _percent(np.expm1(np.log(np.maximum(ratio, 0.01)).mean(axis=1)), TORQUE_USUAL, TORQUE_DOUBT, TORQUE_SHARE)


def _percent(draws: np.ndarray, usual: float, least: float, share: float) -> Interval:
    doubt = float(np.hypot(least, share * abs(draws.mean())))
    return interval(100.0 * draws, usual=100.0 * usual, doubt=100.0 * doubt)


def _about(value: float, high: float) -> Interval:
    return Interval(value, 2.0 * value - high, high)


def _nearest(at: np.ndarray, rpm: float) -> int:
    return int(np.argmin(np.abs(at - rpm)))


def _hole(reference: Reference, ratio: np.ndarray) -> tuple[Interval, float | None]:
    """Depth of the deepest hole that is left, and its speed."""
    reach = reference.in_reach
    rpm, rows = reference.rpm[reach], (reference.torque * ratio)[:, reach]
    places = [deepest_place(rpm, row) for row in rows]
    depths = np.array([max(p.depth, 0.0) if p else 0.0 for p in places])
    found = interval(depths, usual=DEPTH_USUAL, doubt=DEPTH_DOUBT)
    bottoms = [float(rpm[p.bottom]) for p in places if p and p.depth >= SHOWN_HOLE]
    shown = bool(bottoms) and found.value >= SHOWN_HOLE
    return Interval(found.value, max(found.low, 0.0), found.high), float(np.median(bottoms)) if shown else None
