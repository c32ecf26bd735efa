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

_DELAYS = np.arange(0.0, 0.5001, 0.01)
_LAGS = np.array([0.02, 0.05, 0.075, 0.10, 0.125, 0.15, 0.2])


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
    return f"lambda delay {delay:.2f} +- {delay_sd:.2f} s, lag {lag:.2f} +- {lag_sd:.2f} s: {how}"


def _prior(given: float | None) -> np.ndarray:
    def soft(x: np.ndarray, low: float, high: float, softness: float) -> np.ndarray:
        return -0.5 * (np.maximum(0.0, np.maximum(low - x, x - high)) / softness) ** 2

    delay = (given, given, 0.01) if given is not None else (*DELAY_RANGE, PRIOR_SOFTNESS)
    # the grid of lags is uneven, so each point carries its share of the range
    share = np.log(np.gradient(_LAGS))
    return soft(_DELAYS, *delay)[:, None] + (soft(_LAGS, *LAG_RANGE, PRIOR_SOFTNESS) + share)[None, :]


def _moments(weight: np.ndarray, values: np.ndarray) -> tuple[float, float]:
    mean = float((weight * values).sum())
    return mean, math.sqrt(max(0.0, float((weight * (values - mean) ** 2).sum())))


def _timed(pulls: list[Pull]) -> list[Pull]:
    return [p for p in pulls if p.time is not None and p.mixture is not None]


def _rates_differ(pulls: list[Pull]) -> bool:
    rates = [sweep_rate(p) for p in pulls]
    return len(pulls) > 1 and max(rates) - min(rates) >= RATE_SPREAD * max(map(abs, rates))


def _rate_likelihood(pulls: list[Pull]) -> np.ndarray:
    """Log likelihood of every delay and lag from one setup's pulls. (n_delay, n_lag)"""
    data = [_even(p) for p in pulls]
    low, high = min(s.min() for _, s, _ in data), max(s.max() for _, s, _ in data)
    knots = np.linspace(low, high, max(8, int((high - low) / 150.0)))
    squares = np.empty((_DELAYS.size, _LAGS.size))
    count, correlation = 0, 0.0
    for i, delay in enumerate(_DELAYS):
        for j, lag in enumerate(_LAGS):
            rest = _spline_rest(data, knots, float(delay), float(lag))
            squares[i, j] = rest @ rest
            count = rest.size
            if squares[i, j] <= squares.flat[: i * _LAGS.size + j + 1].min():
                correlation = float(rest[1:] @ rest[:-1] / max(1e-12, rest @ rest))
    independent = count * (1 - max(0.0, correlation)) / (1 + max(0.0, correlation))
    return -0.5 * independent * np.log(squares / squares.min())


def _even(pull: Pull) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Time, engine speed and lambda on even steps of at least 0.02 s, whole record with a sound speed."""
    assert pull.time is not None
    assert pull.mixture is not None
    ok = np.isfinite(pull.mixture) & np.isfinite(pull.torque)
    step = max(0.02, float(np.median(np.diff(pull.time))))
    time = np.arange(pull.time[ok][0], pull.time[ok][-1], step)
    return (
        time,
        np.interp(time, pull.time[ok], pull.engine_speed[ok]),
        np.interp(time, pull.time[ok], pull.mixture[ok]),
    )


def _spline_rest(
    data: list[tuple[np.ndarray, np.ndarray, np.ndarray]], knots: np.ndarray, delay: float, lag: float
) -> np.ndarray:
    """Residual of the common mixture curve seen through this delay and lag."""
    from scipy.signal import lfilter

    blocks, targets = [], []
    for k, (time, speed, mixture) in enumerate(data):
        step = time[1] - time[0]
        basis = _hat_basis(np.interp(time - delay, time, speed), knots)
        keep = math.exp(-step / lag)
        seen = lfilter([1 - keep], [1, -keep], basis, axis=0, zi=(keep * basis[:1]))[0]
        late = time - time[0] > delay + 3 * lag  # before that the reading belongs to the time before the pull
        offset = np.zeros((late.sum(), len(data) - 1))
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
