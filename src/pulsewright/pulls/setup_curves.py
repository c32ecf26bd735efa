"""Mean curves of one setup: torque with heat and drift taken out, lambda put back by its delay."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pulsewright.pulls.bins import bin_average, bin_centres, hold_average
from pulsewright.pulls.hole import Hole, find_hole
from pulsewright.pulls.lambda_lag import LambdaLag
from pulsewright.pulls.pull import Pull
from pulsewright.pulls.trend import trend
from pulsewright.pulls.unlag import ASSUMED_RATE_SD, sweep_rate, unlagged


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SetupCurves:
    """Mean curves of one setup over 50 rpm bins, weather-corrected, heat and drift taken out."""

    name: str
    pulls: tuple[int, ...]  # session numbers, counting from 1, of the pulls used
    rpm: np.ndarray  # (n_bin,)
    torques: np.ndarray  # (n_pull, n_bin) corrected, unsmoothed, drift left in [N m]
    torque: np.ndarray  # (n_bin,) mean, drift taken out, unsmoothed [N m]
    torque_sd: np.ndarray  # (n_bin,) standard deviation of one pull [N m]
    torque_trend: np.ndarray  # (n_bin,) smooth, for drawing and for reading shoulders [N m]
    mixture: np.ndarray  # (n_bin,) mean lambda put back by delay and lag [-]; NaN where unknown
    mixture_sd: np.ndarray  # (n_bin,) from the doubt about delay and lag, and between pulls [-]
    lambdas: dict[str, np.ndarray]  # the same a sensor
    torque_at: str  # "engine" or "wheel"
    hole: Hole | None


def setup_curves(
    name: str,
    pulls: list[Pull],
    *,
    numbers: list[int],
    factors: np.ndarray,
    drift: np.ndarray,
    lag: LambdaLag,
) -> SetupCurves:
    """Curves of the pulls of one setup.

    numbers : of these pulls in the session, from 1. factors : (n_pull,) weather correction [-].
    drift : (n_pull,) log change of torque from heat and order.
    """
    lows = [float(p.engine_speed[p.usable].min()) for p in pulls]
    highs = [float(p.engine_speed[p.usable].max()) for p in pulls]
    rpm = bin_centres(float(np.median(lows)), float(np.median(highs)))
    torques = np.vstack([binned(p, p.torque * factor, rpm) for p, factor in zip(pulls, factors, strict=True)])
    level = torques * np.exp(-drift)[:, None]
    torque = np.nanmean(level, axis=0)
    sensors = sorted({sensor for p in pulls for sensor in p.lambdas})
    mixture, mixture_sd = _mixture(pulls, None, rpm, lag)
    return SetupCurves(
        name=name,
        pulls=tuple(numbers),
        rpm=rpm,
        torques=torques,
        torque=torque,
        torque_sd=np.nanstd(level, axis=0, ddof=1) if len(pulls) > 1 else np.full(rpm.shape, np.nan),
        torque_trend=trend(rpm, torque),
        mixture=mixture,
        mixture_sd=mixture_sd,
        lambdas={sensor: _mixture(pulls, sensor, rpm, lag)[0] for sensor in sensors},
        torque_at=pulls[0].torque_at,
        hole=find_hole(rpm, torques),
    )


def binned(pull: Pull, values: np.ndarray, centres: np.ndarray) -> np.ndarray:
    """Mean of the usable samples in bins of 50 rpm; NaN where there are none. (n_bin,)

    values : (n_sample,) of the pull. centres : (n_bin,) [rpm].
    """
    average = hold_average if pull.kind == "steps" else bin_average
    return average(pull.engine_speed[pull.usable], values[pull.usable], centres)


def _mixture(pulls: list[Pull], sensor: str | None, rpm: np.ndarray, lag: LambdaLag) -> tuple[np.ndarray, np.ndarray]:
    """Mean unlagged lambda over the pulls, and its standard deviation. (n_bin,), (n_bin,)"""
    rows, rates = [], []
    for pull in pulls:
        reading = pull.mixture if sensor is None else pull.lambdas.get(sensor)
        if reading is None:
            continue
        speed, sharp = unlagged(pull, reading, lag.delay, lag.lag)
        average = hold_average if pull.kind == "steps" else bin_average
        rows.append(average(speed, sharp, rpm))
        rates.append(0.0 if pull.kind == "steps" else sweep_rate(pull))
    if not rows:
        return np.full(rpm.shape, np.nan), np.full(rpm.shape, np.nan)
    mean = np.nanmean(rows, axis=0)
    slope = np.gradient(trend(rpm, mean), rpm)
    rate = float(np.mean(rates))
    late = abs(rate) * lag.total_sd
    if any(p.time is None for p in pulls):
        late = float(np.hypot(late, lag.total * ASSUMED_RATE_SD))
    between = np.nanstd(rows, axis=0, ddof=1) / np.sqrt(len(rows)) if len(rows) > 1 else np.zeros(rpm.shape)
    return mean, np.hypot(np.nan_to_num(np.abs(slope)) * late, between)
