"""How well a delay and a lag explain the lambda readings of one setup's pulls.

The mixture that the engine burns is one curve over engine speed for all pulls of a setup (a cubic spline, an
offset a pull) and, at a break in the torque, a change of unknown size with the shape of the break. It reaches
the reading through the delay and the first-order lag. The straight line between grid points passes the lag
exactly (first-order hold), so neither grid nor sampling adds a delay of its own.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from pulsewright.pulls.pull import Pull
from pulsewright.pulls.torque_events import torque_breaks

KNOT_SPACING = 120.0  # [rpm] of the spline: fine enough for the narrowest feature lag leaves standing
GRID = 0.01  # [s] on which the mixture passes the lag
READING_STEP = 0.04  # [s] faster logs are averaged down to it: a third of the shortest lag changes nothing
SPEED_WINDOW = 0.3  # [s] over which engine speed is straight
SETTLE_TIME = 0.8  # [s] after which the reading belongs to the pull whatever the delay and lag
LONGEST = 0.8  # [s] of delay and lag that the grid allows for


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TimedReading:
    """One pull: what the sensor read, and what the engine did meanwhile."""

    time: np.ndarray  # (n,) [s]
    reading: np.ndarray  # (n,) lambda [-]
    grid: np.ndarray  # (n_grid,) [s] even, from well before the first reading to after the last
    speed: np.ndarray  # (n_grid,) [rpm]
    breaks: np.ndarray  # (n_grid, n_break) [-] of torque

    def without_breaks(self) -> TimedReading:
        """The same with no breaks to judge by."""
        return replace(self, breaks=self.breaks[:, :0])


def timed_reading(pull: Pull) -> TimedReading | None:
    """The pull on an even grid; None where it has no time, no lambda or too few samples."""
    if pull.time is None or pull.mixture is None:
        return None
    sound = np.isfinite(pull.torque) & np.isfinite(pull.engine_speed)
    if pull.faulty is not None:
        sound &= ~pull.faulty
    start = pull.time[sound][0] + SETTLE_TIME if sound.any() else np.inf
    read = np.isfinite(pull.mixture) & (pull.time > start) & (pull.time <= pull.time[sound][-1])
    if read.sum() < 20:
        return None
    known, time = pull.time[sound], pull.time[read]
    grid = np.arange(known[0] - LONGEST, known[-1] + LONGEST, GRID)
    held = np.clip(grid, known[0], known[-1])
    late = known > start
    breaks = torque_breaks(known[late], pull.torque[sound][late]) if late.sum() > 20 else []
    columns = [np.interp(grid, known[late], each, left=0.0, right=0.0) for each in breaks]
    each = max(1, round(READING_STEP / float(np.median(np.diff(time)))))
    return TimedReading(
        time=_averaged(time, each),
        reading=_averaged(pull.mixture[read], each),
        grid=grid,
        speed=np.interp(held, known, _smooth(known, pull.engine_speed[sound])),
        breaks=np.column_stack(columns) if columns else np.empty((grid.size, 0)),
    )


def _averaged(values: np.ndarray, each: int) -> np.ndarray:
    count = values.size // each
    return values[: count * each].reshape(count, each).mean(axis=1)


def _smooth(time: np.ndarray, speed: np.ndarray) -> np.ndarray:
    from scipy.signal import savgol_filter

    width = 2 * round(SPEED_WINDOW / float(np.median(np.diff(time))) / 2.0) + 1
    return speed if width < 5 or width > time.size else np.asarray(savgol_filter(speed, width, 2, mode="interp"))


class LagLikelihood:
    """Log likelihood of delay and lag from one setup's pulls. by_speed : judge by the common curve over speed;
    else the curve is a nuisance that stays with the reading, and the breaks alone judge."""

    def __init__(self, pulls: list[TimedReading], *, by_speed: bool) -> None:
        self._pulls, self._by_speed = pulls, by_speed
        low, high = min(p.speed.min() for p in pulls), max(p.speed.max() for p in pulls)
        knots = np.linspace(low, high, max(8, int((high - low) / KNOT_SPACING)))
        self._curves = [_bumps(p.speed, knots) for p in pulls]
        self._target = np.concatenate([p.reading for p in pulls])
        self._offsets = _offsets([p.time.size for p in pulls])
        self._fixed = np.vstack([_at(p, c, 0.0) for p, c in zip(pulls, self._curves, strict=True)])
        self._lagged = lru_cache(maxsize=None)(self._pass_lag)

    def rest(self, delay: float, lag: float, *, breaks: bool = True) -> np.ndarray:
        """Residual of the readings, always the same samples. (n,) [-]"""
        curves, events = self._lagged(round(lag, 6))
        blocks = [self._offsets]
        if self._by_speed:
            blocks.append(np.vstack([_at(p, c, delay) for p, c in zip(self._pulls, curves, strict=True)]))
        else:
            blocks.append(self._fixed)
        if breaks:
            blocks.append(_diagonal([_at(p, e, delay) for p, e in zip(self._pulls, events, strict=True)]))
        design = np.hstack(blocks)
        gram = design.T @ design
        gram[np.diag_indices_from(gram)] += 1e-9 * (1.0 + gram.diagonal())
        return self._target - design @ np.linalg.solve(gram, design.T @ self._target)

    def surface(self, delays: np.ndarray, lags: np.ndarray) -> np.ndarray:
        """Sum of squares at pairs of the same shape."""
        return np.array([float(r @ r) for r in map(self.rest, delays.ravel(), lags.ravel())]).reshape(delays.shape)

    def independent(self, delay: float, lag: float) -> float:
        """How many independent samples the residual is worth."""
        rest = self.rest(delay, lag)
        correlation = max(0.0, float(rest[1:] @ rest[:-1] / (rest @ rest)))
        return rest.size * (1.0 - correlation) / (1.0 + correlation)

    def _pass_lag(self, lag: float) -> tuple[list[np.ndarray], list[np.ndarray]]:
        curves = [_first_order(c, lag) for c in self._curves] if self._by_speed else self._curves
        return curves, [_first_order(p.breaks, lag) for p in self._pulls]


def _first_order(values: np.ndarray, lag: float) -> np.ndarray:
    """Values on the grid, straight between its points, through a first-order lag; exact. (n_grid, n)"""
    from scipy.signal import lfilter

    keep = float(np.exp(-GRID / lag))
    mean = (1.0 - keep) * lag / GRID
    start = mean * values[:1]  # as if it had stood at its first value for ever
    return np.asarray(lfilter([1.0 - mean, mean - keep], [1.0, -keep], values, axis=0, zi=start)[0])


def _at(pull: TimedReading, columns: np.ndarray, delay: float) -> np.ndarray:
    """Columns at the time of the readings less the delay. (n, n_column)"""
    place = np.clip((pull.time - delay - pull.grid[0]) / GRID, 0.0, pull.grid.size - 1.001)
    before = place.astype(int)
    share = (place - before)[:, None]
    return columns[before] * (1.0 - share) + columns[before + 1] * share


def _offsets(sizes: list[int]) -> np.ndarray:
    """One column a pull after the first: sensors and mixtures shift a little from pull to pull."""
    which = np.repeat(np.arange(len(sizes)), sizes)
    return (which[:, None] == np.arange(1, len(sizes))[None, :]).astype(float)


def _diagonal(blocks: list[np.ndarray]) -> np.ndarray:
    from scipy.linalg import block_diag

    return np.asarray(block_diag(*blocks))


def _bumps(x: np.ndarray, knots: np.ndarray) -> np.ndarray:
    """Cubic B-splines on even knots, one beyond each end. (n, n_knot + 2)"""
    step = knots[1] - knots[0]
    centres = np.concatenate([[knots[0] - step], knots, [knots[-1] + step]])
    u = np.abs(x[:, None] - centres[None, :]) / step
    inner, outer = 2 / 3 - u**2 + u**3 / 2, np.maximum(0.0, 2 - u) ** 3 / 6
    return np.where(u < 1, inner, outer)
