"""Lambda put back to the moment it belongs to: delay shifted out, first-order lag inverted.

true(t - delay) = reading(t) + lag * d(reading)/dt, the derivative from a local parabola over 0.35 s so that
it does not turn sensor noise into mixture.
"""

from __future__ import annotations

import numpy as np

from pulsewright.pulls.pull import Pull

SMOOTH_TIME = 0.35  # [s] about twice the longest lag of a sensor in the pipe
ASSUMED_RATE = 400.0  # [rpm/s] where the file has no time; street sweeps run at 200 to 700 (common practice)
ASSUMED_RATE_SD = 130.0  # [rpm/s]


def sample_times(pull: Pull) -> np.ndarray:
    """Time of every sample; without a time channel even steps at the assumed rate. (n_sample,) [s]"""
    if pull.time is not None:
        return pull.time
    speed = pull.engine_speed[pull.usable]
    count = max(1, int(pull.usable.sum()) - 1)
    step = abs(float(speed[-1] - speed[0])) / count / ASSUMED_RATE
    return np.arange(pull.engine_speed.size) * max(step, 1e-4)


def sweep_rate(pull: Pull) -> float:
    """Mean rate of a pull, signed. [rpm/s] The assumed rate where the file has no time."""
    time = sample_times(pull)[pull.usable]
    speed = pull.engine_speed[pull.usable]
    return float((speed[-1] - speed[0]) / max(1e-6, time[-1] - time[0]))


def unlagged(pull: Pull, reading: np.ndarray, delay: float, lag: float) -> tuple[np.ndarray, np.ndarray]:
    """Engine speed each lambda sample belongs to [rpm], and the lambda without lag.

    Samples that belong to unusable moments are NaN in the speed. Both (n_sample,).
    """
    time = sample_times(pull)
    sharp = reading + lag * _slope(time, reading)
    good = pull.usable
    speed = np.interp(time - delay, time[good], pull.engine_speed[good], left=np.nan, right=np.nan)
    return speed, sharp


def _slope(time: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Derivative by a local parabola; NaN samples bridged for the slope only."""
    from scipy.signal import savgol_filter

    finite = np.isfinite(values)
    if finite.sum() < 5:
        return np.zeros(values.size)
    even = float(np.median(np.diff(time)))
    filled = np.interp(time, time[finite], values[finite])
    width = max(5, 2 * round(SMOOTH_TIME / even / 2) + 1)
    if width > values.size:
        return np.gradient(filled, time)
    return np.asarray(savgol_filter(filled, width, 2, deriv=1, delta=even, mode="interp"))
