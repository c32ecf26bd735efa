"""Delay and lag of the lambda reading, estimated where the session allows it, else the prior with its width.

Prior    common practice, no published source: sensors in the pipe lag by a delay of 0.05 to 0.25 s and a time
         constant of 0.05 to 0.15 s; flat inside, falling softly outside.
Rates    pulls of one setup at different rates (or up and down) must show one mixture curve over engine speed.
         The curve is a cubic spline; delay and lag pass through it; the fit of all pulls judges each pair.
         Used where the rates differ by 15 % or more: below, the shift between pulls drowns in noise.
The fit is judged by Gaussian likelihood with the residual's own size and correlation.
Not used  the torque answer to a jet change: in a hole the residual gas goes with the mixture, which moves
          the apparent
         place of the mixture by as much as the delay itself.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pulsewright.pulls.pull import Pull
from pulsewright.pulls.unlag import sweep_rate

DELAY_RANGE = (0.05, 0.25)  # [s]
LAG_RANGE = (0.05, 0.15)  # [s]
PRIOR_SOFTNESS = 0.03  # [s]
RATE_SPREAD = 0.15  # [-]

KNOT_SPACING = 120.0  # [rpm] of the spline: fine enough for the narrowest feature lag leaves standing
EVEN_STEP = 0.02  # [s] to which logs are brought
SETTLE_TIME = 0.8  # [s] after which the reading belongs to the pull whatever the delay and lag

_DELAYS = np.arange(0.0, 0.5001, 0.01)
_LAGS = np.arange(0.02, 0.2001, 0.01)
_COARSE_DELAYS = np.linspace(0.0, 0.5, 11)
_COARSE_LAGS = np.linspace(0.02, 0.2, 5)


@dataclass(frozen=True, slots=True, kw_only=True)
class LambdaLag:
    """Delay and first-order lag of the lambda reading."""

    delay: float  # [s]
    delay_sd: float
    lag: float  # [s] time constant
    lag_sd: float
    total: float  # [s] delay + lag: how far a slow feature is late
    total_sd: float
    method: str  # "given", "prior" or "rates"
    text: str


def estimate_lag(
    groups: list[list[Pull]],
    *,
    given: float | None = None,
) -> LambdaLag:
    """Delay and lag of a session's lambda sensor.

    groups : pulls by setup.
    given : delay [s] that the logger's owner states.
    """
    log, method = _prior(given), "prior" if given is None else "given"
    if given is None:
        for pulls in filter(_rates_differ, map(_timed, groups)):
            log, method = log + _rate_likelihood(pulls), "rates"
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    delay, delay_sd = _moments(weight, _DELAYS[:, None])
    lag, lag_sd = _moments(weight, _LAGS[None, :])
    total, total_sd = _moments(weight, _DELAYS[:, None] + _LAGS[None, :])
    return LambdaLag(
        delay=delay, delay_sd=delay_sd, lag=lag, lag_sd=lag_sd, total=total, total_sd=total_sd,
        method=method, text=_text(method, delay, delay_sd, lag, lag_sd),
    )  # fmt: skip


def _text(method: str, delay: float, delay_sd: float, lag: float, lag_sd: float) -> str:
    how = {
        "given": "delay as stated in the session",
        "prior": "these pulls cannot show the delay (one sweep rate): the usual range is used",
    }.get(method, "estimated from pulls at different rates")
    return f"lambda delay {delay:.2f} ± {delay_sd:.2f} s, lag {lag:.2f} ± {lag_sd:.2f} s: {how}"


def _prior(given: float | None) -> np.ndarray:
    def soft(x: np.ndarray, low: float, high: float, softness: float) -> np.ndarray:
        return -0.5 * (np.maximum(0.0, np.maximum(low - x, x - high)) / softness) ** 2

    delay = (given, given, 0.01) if given is not None else (*DELAY_RANGE, PRIOR_SOFTNESS)
    return soft(_DELAYS, *delay)[:, None] + soft(_LAGS, *LAG_RANGE, PRIOR_SOFTNESS)[None, :]


def _moments(weight: np.ndarray, values: np.ndarray) -> tuple[float, float]:
    mean = float((weight * values).sum())
    return mean, math.sqrt(max(0.0, float((weight * (values - mean) ** 2).sum())))


def _timed(pulls: list[Pull]) -> list[Pull]:
    return [p for p in pulls if p.time is not None and p.mixture is not None]


def _rates_differ(pulls: list[Pull]) -> bool:
    rates = [sweep_rate(p) for p in pulls]
    return len(pulls) > 1 and max(rates) - min(rates) >= RATE_SPREAD * max(map(abs, rates))


def _rate_likelihood(pulls: list[Pull]) -> np.ndarray:
    """Log likelihood of every delay and lag from one setup's pulls. (n_delay, n_lag)

    The misfit is smooth in both, so it is computed on a coarse grid and a cubic surface is laid through it.
    """
    from scipy.interpolate import RectBivariateSpline

    data = [_even(p) for p in pulls]
    low, high = min(s.min() for _, s, _ in data), max(s.max() for _, s, _ in data)
    knots = np.linspace(low, high, max(8, int((high - low) / KNOT_SPACING)))
    rests = [[_spline_rest(data, knots, float(d), float(g)) for g in _COARSE_LAGS] for d in _COARSE_DELAYS]
    squares = np.array([[rest @ rest for rest in row] for row in rests])
    i, j = np.unravel_index(int(np.argmin(squares)), squares.shape)
    rest = rests[i][j]
    correlation = max(0.0, float(rest[1:] @ rest[:-1] / (rest @ rest)))
    independent = rest.size * (1.0 - correlation) / (1.0 + correlation)
    fine = RectBivariateSpline(_COARSE_DELAYS, _COARSE_LAGS, squares)(_DELAYS, _LAGS)
    fine = np.maximum(fine, 0.5 * squares.min())
    return -0.5 * independent * np.log(fine / fine.min())


def _even(pull: Pull) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Time, engine speed and lambda on even steps, over the part of the record with a sound speed."""
    assert pull.time is not None
    assert pull.mixture is not None
    ok = np.isfinite(pull.mixture) & np.isfinite(pull.torque)
    time = np.arange(pull.time[ok][0], pull.time[ok][-1], EVEN_STEP)
    speed = np.interp(time, pull.time[ok], pull.engine_speed[ok])
    return time, speed, np.interp(time, pull.time[ok], pull.mixture[ok])


def _spline_rest(
    data: list[tuple[np.ndarray, np.ndarray, np.ndarray]], knots: np.ndarray, delay: float, lag: float
) -> np.ndarray:
    """Residual of the common mixture curve through this delay and lag; always the same samples."""
    from scipy.signal import lfilter

    blocks, targets = [], []
    keep = math.exp(-EVEN_STEP / lag)
    filter_delay = lag - EVEN_STEP * keep / (1.0 - keep)  # of the continuous filter over the sampled one
    for k, (time, speed, mixture) in enumerate(data):
        basis = _hat_basis(np.interp(time - delay - filter_delay, time, speed), knots)
        seen = lfilter([1 - keep], [1, -keep], basis, axis=0, zi=(keep * basis[:1]))[0]
        late = time - time[0] > SETTLE_TIME
        offset = np.zeros((int(late.sum()), len(data) - 1))
        if k:
            offset[:, k - 1] = 1.0
        blocks.append(np.hstack([seen[late], offset]))
        targets.append(mixture[late])
    design, target = np.vstack(blocks), np.concatenate(targets)
    gram = design.T @ design + 1e-9 * np.eye(design.shape[1])
    return target - design @ np.linalg.solve(gram, design.T @ target)


def _hat_basis(x: np.ndarray, knots: np.ndarray) -> np.ndarray:
    """Cubic B-spline-like bumps on even knots. (n, n_knot)"""
    step = knots[1] - knots[0]
    u = np.abs(np.clip(x, knots[0], knots[-1])[:, None] - knots[None, :]) / step
    inner, outer = 2 / 3 - u**2 + u**3 / 2, np.maximum(0.0, 2 - u) ** 3 / 6
    return np.where(u < 1, inner, outer)
