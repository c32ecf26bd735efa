"""Delay and lag of the lambda reading, estimated where the session allows it, else the prior with its width.

Prior    common practice, no published source: sensors in the pipe lag by a delay of 0.05 to 0.25 s and a time
         constant of 0.05 to 0.15 s; flat inside, falling softly outside.
Rates    pulls of one setup at different rates (or up and down) must show one mixture curve over engine speed.
         Used where the rates differ by 15 % or more: below, the shift between pulls drowns in noise.
Breaks   short breaks in the torque of a pull, which lambda answers (torque_events.py). Used where lambda
         answers them beyond doubt.
Both are judged in one fit (lag_likelihood.py) by Gaussian likelihood with the residual's own size and
correlation.
Not used  the torque answer to a jet change: in a hole the residual gas goes with the mixture, which moves
         the apparent place of the mixture by as much as the delay itself.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pulsewright.pulls.lag_likelihood import LagLikelihood, TimedReading, timed_reading
from pulsewright.pulls.pull import Pull
from pulsewright.pulls.unlag import sweep_rate

DELAY_RANGE = (0.05, 0.25)  # [s]
LAG_RANGE = (0.05, 0.15)  # [s]
PRIOR_SOFTNESS = 0.03  # [s]
RATE_SPREAD = 0.15  # [-]
BREAKS_ANSWER = 12.0  # log likelihood gained above one a break: by chance once in 1e5 (chi-squared)
BREAK_SHAPE = (0.003, 0.006, 0.007)  # [s] of sum, lag, delay that a break leaves open: mixture follows torque roughly
ANSWER_RATIO = 5.0  # that lambda follows the breaks so much better than it foretells them
BEFORE = np.arange(-0.75, -0.44, 0.05)  # [s] "delays" at which lambda would foretell a break

# A slow feature is late by the sum of delay and lag, which the pulls show well; their split shows less. The
# misfit is a smooth valley along the sum: a few points and a cubic surface, first everywhere, then around it.
SUMS = (0.04, 0.7)  # [s]
LAGS = (0.02, 0.2)  # [s]
_COARSE, _FINE, _READ = (12, 4), (7, 7), (61, 37)  # points over sums and lags
_WIDTHS = 4.0  # standard deviations that the window keeps to each side
_LEAST_WINDOW = 0.004  # [s] to each side


@dataclass(frozen=True, slots=True, kw_only=True)
class LambdaLag:
    """Delay and first-order lag of the lambda reading."""

    delay: float  # [s]
    delay_sd: float
    lag: float  # [s] time constant
    lag_sd: float
    total: float  # [s] delay + lag: how far a slow feature is late
    total_sd: float
    method: str  # "given", "prior", "rates", "breaks" or "rates and breaks"
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
    method, judges, signs = "given", [], []
    if given is None:
        judges, signs = _judges(groups)
        method = " and ".join(signs) or "prior"
    (total, lag, delay), sds = _posterior(judges, given)
    if "breaks" in method:
        sds = [math.hypot(sd, shape) for sd, shape in zip(sds, BREAK_SHAPE, strict=True)]
    total_sd, lag_sd, delay_sd = sds
    return LambdaLag(
        delay=delay, delay_sd=delay_sd, lag=lag, lag_sd=lag_sd, total=total, total_sd=total_sd,
        method=method, text=_text(method, delay, delay_sd, lag, lag_sd),
    )  # fmt: skip


def _text(method: str, delay: float, delay_sd: float, lag: float, lag_sd: float) -> str:
    how = {
        "given": "delay as stated in the session",
        "prior": "these pulls cannot show the delay (one sweep rate): the usual range is used",
        "rates": "estimated from pulls at different rates",
        "breaks": "estimated from lambda's answer to short breaks in the torque",
    }.get(method, "estimated from pulls at different rates and from short breaks in the torque")
    return f"lambda delay {delay:.2f} ± {delay_sd:.2f} s, lag {lag:.2f} ± {lag_sd:.2f} s: {how}"


def _posterior(judges: list[LagLikelihood], given: float | None) -> tuple[list[float], list[float]]:
    """Means and standard deviations of sum, lag and delay. [s]"""
    spread = (np.linspace(*SUMS, 331), np.linspace(*LAGS, 37))
    if not judges:
        return _moments(*spread, _prior(*spread, given))
    points = np.linspace(*SUMS, _COARSE[0]), np.linspace(*LAGS, _COARSE[1])
    middle, sd = _moments(*spread, _prior(*spread, given) + sum(_log(j, *points, *spread) for j in judges))
    half = [0.06, LAGS[1] - LAGS[0]]
    while True:  # look closer until the window fits what is left open
        ends = [_window(m, h, *limits) for m, h, limits in zip(middle, half, (SUMS, LAGS), strict=False)]
        points = [np.linspace(*each, count) for each, count in zip(ends, _FINE, strict=True)]
        spread = [np.linspace(*each, count) for each, count in zip(ends, _READ, strict=True)]
        middle, sd = _moments(*spread, _prior(*spread, given) + sum(_log(j, *points, *spread) for j in judges))
        closer = [max(_LEAST_WINDOW, _WIDTHS * each) for each in sd[:2]]
        if all(new > 0.5 * old for new, old in zip(closer, half, strict=True)):
            return middle, sd
        half = [min(new, old) for new, old in zip(closer, half, strict=True)]


def _window(middle: float, half: float, low: float, high: float) -> tuple[float, float]:
    return max(low, middle - half), min(high, middle + half)


def _prior(sums: np.ndarray, lags: np.ndarray, given: float | None) -> np.ndarray:
    """Log prior. (n_sum, n_lag)"""

    def soft(x: np.ndarray, low: float, high: float, softness: float) -> np.ndarray:
        return -0.5 * (np.maximum(0.0, np.maximum(low - x, x - high)) / softness) ** 2

    delay = (given, given, 0.01) if given is not None else (*DELAY_RANGE, PRIOR_SOFTNESS)
    return soft(sums[:, None] - lags[None, :], *delay) + soft(lags, *LAG_RANGE, PRIOR_SOFTNESS)[None, :]


def _moments(sums: np.ndarray, lags: np.ndarray, log: np.ndarray) -> tuple[list[float], list[float]]:
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    values = (sums[:, None], lags[None, :], sums[:, None] - lags[None, :])
    means = [float((weight * each).sum()) for each in values]
    sds = [math.sqrt(float((weight * (x - m) ** 2).sum())) for x, m in zip(values, means, strict=True)]
    return means, sds


def _judges(groups: list[list[Pull]]) -> tuple[list[LagLikelihood], list[str]]:
    """Setups whose pulls show the lag, and by what."""
    judges, signs = [], set()
    for pulls in groups:
        timed = [(pull, reading) for pull in pulls if (reading := timed_reading(pull)) is not None]
        readings = [reading for _, reading in timed]
        rates = _rates_differ([pull for pull, _ in timed])
        breaks = any(r.breaks.size for r in readings) and _answered(readings)
        if not breaks:
            readings = [r.without_breaks() for r in readings]
        if rates or breaks:
            judges.append(LagLikelihood(readings, by_speed=rates))
            signs |= {"rates"} if rates else set()
            signs |= {"breaks"} if breaks else set()
    return judges, sorted(signs, reverse=True)


def _rates_differ(pulls: list[Pull]) -> bool:
    rates = [sweep_rate(p) for p in pulls]
    return len(pulls) > 1 and max(rates) - min(rates) >= RATE_SPREAD * max(map(abs, rates))


def _answered(readings: list[TimedReading]) -> bool:
    """Whether lambda answers the breaks: far better by following than by foretelling them, and beyond noise."""
    judge = LagLikelihood(readings, by_speed=False)
    delays, lags = np.meshgrid(np.arange(0.02, 0.36, 0.03), [0.04, 0.08, 0.15])
    without = judge.rest(0.0, 0.1, breaks=False)
    nothing = float(without @ without)
    squares = judge.surface(delays, lags)
    best = np.unravel_index(int(np.argmin(squares)), squares.shape)
    followed = nothing - float(squares[best])
    foretold = nothing - float(judge.surface(BEFORE, np.full(BEFORE.shape, 0.08)).min())
    gain = 0.5 * judge.independent(float(delays[best]), float(lags[best])) * math.log(nothing / float(squares[best]))
    return followed > ANSWER_RATIO * foretold and gain > BREAKS_ANSWER + sum(r.breaks.shape[1] for r in readings)


def _log(
    judge: LagLikelihood, sums: np.ndarray, lags: np.ndarray, to_sums: np.ndarray, to_lags: np.ndarray
) -> np.ndarray:
    """Log likelihood on the grid `to_sums` x `to_lags` by a cubic surface through `sums` x `lags`."""
    from scipy.interpolate import RectBivariateSpline

    delays = sums[:, None] - lags[None, :]
    squares = judge.surface(delays, np.broadcast_to(lags, delays.shape))
    i, j = np.unravel_index(int(np.argmin(squares)), squares.shape)
    independent = judge.independent(float(delays[i, j]), float(lags[j]))
    fine = RectBivariateSpline(sums, lags, squares)(to_sums, to_lags)
    return -0.5 * independent * np.log(np.maximum(fine, 0.5 * squares.min()))
