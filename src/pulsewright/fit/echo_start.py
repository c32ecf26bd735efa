"""How far the model's echo comes back too early or too late, read off two torque curves.

A hole at a wrong speed is too far off for slopes: they fill it in one place and dig in another, and a search ends
in between. So the search starts where the holes lie over each other.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

STRETCHES = np.linspace(0.88, 1.12, 49)  # of the model's speeds
WORTH_IT = 0.25  # share of the misfit in shape that a stretch must save
WAY_POWER = 1.0 / 0.7  # pipe of +20 %: waves at 8 to 17 % lower speeds, common practice, no published source
BEND = 2  # order of the polynomial over speed that is not counted as shape
FEWEST = 6  # speeds
LEAST_SHAPE = 0.01  # [-] of torque, in the root mean square: a curve as smooth as that shows no echo


def echo_way(curves: Sequence[tuple[np.ndarray, np.ndarray, np.ndarray]]) -> float:
    """Factor on the way of the echo that lays the model's holes over the measured ones; 1 where none helps much.

    curves : engine speed [rpm], measured torque and the model's, of every setup; (n_speed,) each, finite.
    """
    told = [c for c in curves if c[0].size >= FEWEST and min(_shape(c[0], c[1]), _shape(c[0], c[2])) > LEAST_SHAPE]
    if not told:
        return 1.0
    misfit = np.array([sum(_misfit(*curve, stretch) for curve in told) for stretch in STRETCHES])
    best = int(np.argmin(misfit))
    if misfit[best] > (1.0 - WORTH_IT) * misfit[STRETCHES.size // 2]:
        return 1.0
    return float(STRETCHES[best] ** WAY_POWER)


def _shape(rpm: np.ndarray, torque: np.ndarray) -> float:
    """Root mean square of what a curve has beside level and bend. [-]"""
    return float(np.sqrt(np.mean(_without_bend(rpm, np.log(torque)) ** 2)))


def _misfit(rpm: np.ndarray, measured: np.ndarray, modelled: np.ndarray, stretch: float) -> float:
    """Mean square of what differs in shape, the model read at `stretch` times the speed."""
    inside = (rpm * stretch >= rpm[0]) & (rpm * stretch <= rpm[-1])
    at = rpm[inside]
    apart = np.log(measured[inside]) - np.interp(at * stretch, rpm, np.log(modelled))
    return float(np.mean(_without_bend(at, apart) ** 2))


def _without_bend(rpm: np.ndarray, values: np.ndarray) -> np.ndarray:
    return values - np.polynomial.Polynomial.fit(rpm, values, BEND)(rpm)
