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


def unlagged_sd(pull: Pull, reading: np.ndarray, lag: float, total_sd: float) -> np.ndarray:
    """Standard deviation of the lambda that `unlagged` gives. (n_sample,) [-]

    lag, total_sd : time constant, and the doubt about delay and lag together [s]. Three parts: the noise of the
    reading as the inversion lets it through, the slope times the doubt, and what the local parabola bends off,
    judged by smoothing once more.
    """
    time = sample_times(pull)
    slope = _slope(time, reading)
    smooth = _parabola(time, reading, 0)
    noise = _noise(reading - smooth, _width(time)) * np.hypot(1.0, lag * _slope_gain(time))
    return np.sqrt(noise**2 + (slope * total_sd) ** 2 + (lag * (slope - _slope(time, smooth))) ** 2)


def _noise(rest: np.ndarray, width: int) -> float:
    """Of one sample, from what lies off the local parabola; that takes 9/4 degrees of freedom a window."""
    known = rest[np.isfinite(rest)]
    if known.size < 5:
        return 0.0
    return 1.4826 * float(np.median(np.abs(known))) / np.sqrt(max(0.1, 1.0 - 9.0 / (4.0 * width)))


def _slope_gain(time: np.ndarray) -> float:
    """Noise of the slope a unit of noise in the samples. [1/s]"""
    from scipy.signal import savgol_coeffs

    step = float(np.median(np.diff(time)))
    return float(np.linalg.norm(savgol_coeffs(_width(time), 2, deriv=1, delta=step)))


def _width(time: np.ndarray) -> int:
    """Samples in the window of the local parabola."""
    return max(5, 2 * round(SMOOTH_TIME / float(np.median(np.diff(time))) / 2) + 1)


def _slope(time: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Derivative by a local parabola; NaN samples bridged for the slope only."""
    return _parabola(time, values, 1)


def _parabola(time: np.ndarray, values: np.ndarray, order: int) -> np.ndarray:
    """Local parabola, or its derivative; NaN samples bridged."""
    from scipy.signal import savgol_filter

    finite = np.isfinite(values)
    if finite.sum() < 5:
        return np.zeros(values.size) if order else values
    filled = np.interp(time, time[finite], values[finite])
    width = _width(time)
    if width > values.size:
        return np.gradient(filled, time) if order else filled
    step = float(np.median(np.diff(time)))
    return np.asarray(savgol_filter(filled, width, 2, deriv=order, delta=step, mode="interp"))
