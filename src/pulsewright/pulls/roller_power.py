"""Power from the acceleration of a roller: P = J w dw/dt.

The kinetic energy of what turns is all that an inertia roller takes up, so its rate is the power (mechanics;
no source needed). To it come the losses of roller and drive, known from a table or from coasting down, and
the power that spins the engine itself up. The acceleration is the slope of a straight line through all
samples of a window in engine speed; the window is stated with the result, since it smooths the curve: never
compare curves made with different windows.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pulsewright.bench.roller import RollerDyno
from pulsewright.errors import InputError

RADIANS = math.pi / 30.0  # [rad/s] per rpm
FEWEST_IN_WINDOW = 5  # samples a slope is drawn through


def roller_power(time: np.ndarray, roller: np.ndarray, engine_speed: np.ndarray, dyno: RollerDyno) -> np.ndarray:
    """Power of the engine. (n,) [W]

    time : (n,) [s] rising. roller : (n,) [rad/s]. engine_speed : (n,) [rpm], NaN where not trusted.
    NaN at the ends, where no window fits.
    """
    gear = drive_ratio(roller, engine_speed, dyno)
    turning, acceleration = slopes(time, roller, dyno.window * RADIANS / gear)
    stored = (dyno.inertia + dyno.engine_inertia * gear**2) * turning * acceleration
    return stored + lost_power(turning * dyno.radius, dyno.losses)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RollerDoubt:
    """Standard deviations of a power made from a roller's speed, by where they come from. Each (n,) [W]; NaN where
    the power is."""

    noise: np.ndarray  # of the speed, through the slope; independent from window to window
    window: np.ndarray  # what the window smooths away beyond the noise
    inertia: np.ndarray  # the same share for every pull on this roller: it drops out of a difference

    @property
    def whole(self) -> np.ndarray:
        """All three together. (n,) [W]"""
        return np.sqrt(self.noise**2 + self.window**2 + self.inertia**2)


def roller_doubt(time: np.ndarray, roller: np.ndarray, engine_speed: np.ndarray, dyno: RollerDyno) -> RollerDoubt:
    """How well `roller_power` of the same arguments is known.

    Noise is what the samples scatter about the lines of the windows, taken as independent from sample to sample
    (least squares). The window is judged by passing the acceleration through it once more. The tolerance of the
    inertia is taken as two standard deviations.
    """
    gear = drive_ratio(roller, engine_speed, dyno)
    window = dyno.window * RADIANS / gear
    turning, acceleration, noise = window_lines(time, roller, window)
    stored = (dyno.inertia + dyno.engine_inertia * gear**2) * turning
    known = np.isfinite(acceleration)
    again = np.full(time.shape, np.nan)
    if known.any():
        run = np.concatenate([[0.0], np.cumsum(np.diff(time[known]) * _between(acceleration[known]))])
        again[known] = slopes(time[known], run, window)[1]
    bent = np.nan_to_num(acceleration - again)  # at the ends, where it cannot pass twice, nothing is added
    return RollerDoubt(
        noise=stored * noise,
        window=stored * np.sqrt(np.maximum(0.0, bent**2 - noise**2)),
        inertia=0.5 * dyno.inertia_tolerance * dyno.inertia * turning * np.abs(acceleration),
    )


def _between(values: np.ndarray) -> np.ndarray:
    return (values[1:] + values[:-1]) / 2.0


def drive_ratio(roller: np.ndarray, engine_speed: np.ndarray, dyno: RollerDyno) -> float:
    """Engine turns a roller turn: as given, else the middle of the pull. [-]"""
    if dyno.drive_ratio is not None:
        return dyno.drive_ratio
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = engine_speed * RADIANS / roller
    return float(np.nanmedian(ratio[np.isfinite(ratio) & (roller > 0.0)]))


def lost_power(speed: np.ndarray, losses: tuple[tuple[float, float], ...]) -> np.ndarray:
    """Power lost at a surface speed [m/s]: straight lines in force, held outside the table. (n,) [W]"""
    if not losses:
        return np.zeros(speed.shape)
    table = np.array(sorted(losses))
    return np.interp(speed, table[:, 0], table[:, 1] / table[:, 0]) * speed


def slopes(time: np.ndarray, values: np.ndarray, window: float) -> tuple[np.ndarray, np.ndarray]:
    """Value and slope of straight lines through all samples of a window in the value itself.

    The window reaches as far in time to both sides, at the local rate; NaN where fewer than five samples lie
    in it or it leaves the log. (n,), (n,)
    """
    level, slope, _ = window_lines(time, values, window)
    return level, slope


def window_lines(time: np.ndarray, values: np.ndarray, window: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """As `slopes`, and the standard deviation of the slope by the scatter about all lines. (n,), (n,), (n,)"""
    known = np.isfinite(values) & np.isfinite(time)
    t, y = time[known], values[known]
    level, slope, doubt = (np.full(time.shape, np.nan) for _ in range(3))
    if t.size < FEWEST_IN_WINDOW:
        return level, slope, doubt
    rate = np.abs(_rough_rate(t, y, window))
    with np.errstate(divide="ignore"):
        half = np.where(rate > 0, window / 2.0 / rate, np.inf)
    inside = (t - half >= t[0]) & (t + half <= t[-1])
    first = np.searchsorted(t, t - half, side="left")
    last = np.searchsorted(t, t + half, side="right")
    inside &= last - first >= FEWEST_IN_WINDOW
    fits = [_line(t[a:b] - at, y[a:b]) for a, b, at in zip(first[inside], last[inside], t[inside], strict=True)]
    rows = np.flatnonzero(known)[inside]
    if fits:
        level[rows], slope[rows], rest, spread = np.array(fits).T
        free = (last - first)[inside] - 2.0
        doubt[rows] = np.sqrt(rest.sum() / free.sum() / spread)
    return level, slope, doubt


def _rough_rate(t: np.ndarray, y: np.ndarray, window: float) -> np.ndarray:
    """Rate over about one window, to place the window itself. (n,)"""
    whole = max(1e-9, abs(float(y.max() - y.min())))
    count = int(np.clip(round(window / whole * t.size / 2.0), 2, max(2, t.size // 4)))
    ahead, behind = (
        np.minimum(np.arange(t.size) + count, t.size - 1),
        np.maximum(np.arange(t.size) - count, 0),
    )
    return (y[ahead] - y[behind]) / (t[ahead] - t[behind])


def _line(x: np.ndarray, y: np.ndarray) -> tuple[float, float, float, float]:
    """Of the least-squares line: value at x = 0, slope, sum of squares left, sum of squares of x about its mean."""
    middle, mean = x.mean(), y.mean()
    off = x - middle
    spread = float(off @ off)
    slope = float(off @ (y - mean) / spread)
    rest = y - mean - slope * off
    return float(mean - slope * middle), slope, float(rest @ rest), spread


def coast_down_losses(
    time: np.ndarray, roller: np.ndarray, dyno: RollerDyno, *, where: str
) -> tuple[tuple[float, float], ...]:
    """Losses from coasting down with the clutch pulled: force = a + c v^2, neither below zero.

    time : (n,) [s]. roller : (n,) [rad/s]. Rows of surface speed [m/s] and power [W].
    """
    from scipy.optimize import nnls

    known = np.isfinite(roller) & np.isfinite(time) & (roller > 0.0)
    if known.sum() < 4 * FEWEST_IN_WINDOW or np.ptp(roller[known]) < 0.3 * roller[known].max():
        raise InputError(
            "the roller does not coast down far enough to show its losses", where=where,
            hint="let it coast from top speed to under two thirds of it, clutch pulled",
        )  # fmt: skip
    turning, slowing = slopes(time[known], roller[known], 0.1 * float(np.ptp(roller[known])))
    ok = np.isfinite(slowing)
    speed = turning[ok] * dyno.radius
    force = -dyno.inertia * slowing[ok] / dyno.radius
    (constant, square), _ = nnls(np.column_stack([np.ones(speed.size), speed**2]), force)
    if constant == 0.0 and square == 0.0:
        raise InputError(
            "the roller does not slow down in its coast-down file", where=where,
            hint="check that the file is a coast-down and the time its own",
        )  # fmt: skip
    at = np.linspace(roller[known].min(), roller[known].max(), 25) * dyno.radius
    return tuple((float(v), float((constant + square * v * v) * v)) for v in at)
