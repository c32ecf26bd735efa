"""Which samples of a pull may be compared: past the throttle opening, before the throttle closes.

Rule: the first 400 rpm of a sweep are left out. Common practice, no published source: the first 300 to 500
rpm after roll-on hold throttle opening, tyre wind-up and the pump shot. A sweep ends where the speed turns
back. Of held steps the second half of each hold counts.
"""

from __future__ import annotations

import numpy as np

START_SPAN = 400.0  # [rpm]
HOLD_RATE = 30.0  # [rpm/s] slower than this the speed is held; sweeps run at 200 to 700 rpm/s
TURN_BACK = 0.03  # [-] of the top speed that the speed must fall before the sweep counts as over


def sweep_mask(engine_speed: np.ndarray, trusted: np.ndarray) -> tuple[np.ndarray, float]:
    """Usable samples of a sweep and the speed where they begin. (n_sample,) bool, [rpm]"""
    usable = trusted.copy()
    speed = np.where(trusted, engine_speed, np.nan)
    if not trusted.any():
        return usable, float("nan")
    first, last = np.nanmedian(speed[trusted][:5]), np.nanmedian(speed[trusted][-5:])
    rising = last >= first or np.nanmax(speed) - first > first - np.nanmin(speed)
    if rising:
        top = int(np.nanargmax(speed))
        turned = np.flatnonzero(speed[top:] < (1.0 - TURN_BACK) * speed[top])
        if turned.size:
            usable[top + 1 :] = False
        begins = float(np.nanmin(speed[trusted][:20]) + START_SPAN)
        usable &= np.nan_to_num(speed, nan=-1.0) >= begins
    else:
        begins = float(np.nanmax(speed[trusted][:20]) - START_SPAN)
        usable &= np.nan_to_num(speed, nan=np.inf) <= begins
    return usable, begins


def step_mask(time: np.ndarray, engine_speed: np.ndarray, trusted: np.ndarray) -> np.ndarray:
    """Usable samples of held steps: the second half of every hold. (n_sample,) bool"""
    speed = np.interp(time, time[trusted], engine_speed[trusted])
    width = max(3, round(0.5 / max(1e-3, float(np.median(np.diff(time))))))
    smooth = np.convolve(np.pad(speed, width // 2, mode="edge"), np.ones(width) / width, mode="same")
    smooth = smooth[width // 2 : width // 2 + speed.size]
    held = np.abs(np.gradient(smooth, time)) < HOLD_RATE
    usable = np.zeros(speed.size, dtype=bool)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], held.astype(int), [0]])))
    for begin, end in zip(edges[::2], edges[1::2], strict=True):
        usable[(begin + end) // 2 : end] = True
    return usable & trusted
