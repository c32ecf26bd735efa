"""How far an honest model may lie from the engine, before any pull: smooth curves over engine speed.

Two independent models of one sheet differed by 2 to 7 % of torque, and by 0.1 of lambda before any fit (a study
of sub-models; no measured engine behind it). What follows is what is left after the unknowns have been fitted:
a part that all setups share, a part that setups with the same exhaust share, and a part of every setup's own.
Only the first can be carried to a setup that was never pulled; the others widen its interval.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pulsewright.fit.evidence import Evidence
from pulsewright.fit.observations import Observed


@dataclass(frozen=True, slots=True, kw_only=True)
class ErrorBelief:
    """Standard deviations [-] of smooth errors, and the speed over which they stay alike [rpm]."""

    common: float
    exhaust: float
    own: float
    length: float = 500.0

    @property
    def elsewhere(self) -> float:
        """What the common part leaves open for a setup that was never pulled. [-]"""
        return float(np.hypot(self.exhaust, self.own))

    def alike(self, rpm: np.ndarray, other: np.ndarray) -> np.ndarray:
        """Correlation of smooth curves between speeds. (n, m)"""
        return np.exp(-0.5 * (np.subtract.outer(rpm, other) / self.length) ** 2)


TORQUE_ERROR = ErrorBelief(common=0.04, exhaust=0.02, own=0.01)  # relative
LAMBDA_ERROR = ErrorBelief(common=0.02, exhaust=0.015, own=0.01)  # relative


MISSED = 0.03  # share of a cylinder's cycles that may be missed unseen; more shakes a pull by several per cent, assumed
TORQUE, LAMBDA, FIRING = range(3)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Points:
    """All measured values behind each other: torque of every setup, lambda of every setup, and that it fired.

    A torque is the reading over the measured one, so 1 is what was measured; a lambda is the log of the reading
    over the measured one, so 0 is. Where torque was measured every cylinder fired, else it would have been found to
    miss: the share of its cycles that the worst one fires is 1.
    """

    setup: np.ndarray  # (m,) index of the setup
    speed: np.ndarray  # (m,) index of the speed in that setup
    rpm: np.ndarray  # (m,)
    lambda_: np.ndarray  # (m,) bool
    firing: np.ndarray  # (m,) bool
    exhaust: np.ndarray  # (m,) index of the first setup with the same exhaust
    evidence: Evidence

    @property
    def torque(self) -> np.ndarray:
        """Which of them are torque. (m,) bool"""
        return ~(self.lambda_ | self.firing)


def points_of(setups: Sequence[Observed]) -> Points:
    """Measured values of setups with the covariance of everything that is not in the model."""
    rows = [
        (n, k, kind)
        for kind in (TORQUE, LAMBDA, FIRING)
        for n, o in enumerate(setups)
        for k in np.flatnonzero(np.isfinite(o.mixture if kind == LAMBDA else o.torque))
    ]
    setup, speed, kinds = np.array(rows, dtype=int).T
    rpm = np.array([setups[n].rpm[k] for n, k, _ in rows])
    torque, lambda_, firing = (kinds == kind for kind in (TORQUE, LAMBDA, FIRING))
    noise = np.array([_noise(setups[n], int(k), kind) for n, k, kind in rows])
    exhaust = np.array([_first_alike(setups, n) for n in setup])
    error = np.zeros((len(rows), len(rows)))
    for which, belief in ((torque, TORQUE_ERROR), (lambda_, LAMBDA_ERROR)):
        at = np.ix_(which, which)
        same = np.equal.outer(exhaust[which], exhaust[which]), np.equal.outer(setup[which], setup[which])
        variance = belief.common**2 + belief.exhaust**2 * same[0] + belief.own**2 * same[1]
        error[at] = belief.alike(rpm[which], rpm[which]) * variance
    gain = np.array([o.gain_sd for o in setups])[setup]
    shared = np.equal.outer(setup, setup) & np.logical_and.outer(torque, torque)
    error += np.outer(gain, gain) * shared
    measured = np.where(lambda_, 0.0, 1.0)
    return Points(
        setup=setup, speed=speed, rpm=rpm, lambda_=lambda_, firing=firing, exhaust=exhaust,
        evidence=Evidence(measured=measured, error=error, noise=noise, sure=firing),
    )  # fmt: skip


def _noise(seen: Observed, speed: int, kind: int) -> float:
    if kind == FIRING:
        return MISSED
    return float(seen.mixture_sd[speed] / seen.mixture[speed] if kind == LAMBDA else seen.torque_sd[speed])


def _first_alike(setups: Sequence[Observed], number: int) -> int:
    """Index of the first setup with the same exhaust."""
    return next(n for n, o in enumerate(setups) if o.setup.exhaust == setups[number].setup.exhaust)
