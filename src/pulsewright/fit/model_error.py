"""How far an honest model may lie from the engine, before any pull: smooth curves over engine speed.

Two independent models of one sheet differed by 2 to 7 % of torque, and by 0.1 of lambda before any fit (a study
of sub-models; no measured engine behind it). What follows is what is left after the unknowns have been fitted:
a part that all setups share, a part that setups with the same exhaust share, and a part of every setup's own. Jets
stray by themselves: jets of one number differ by 5 % in flow (common practice, no published source), and what a step
of jets does is modelled no better than that. This part of lambda is the same at all speeds, and setups share it whose
jets are about as large. It and the part that all setups share can be carried to a setup that was never pulled; the
others widen its interval.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pulsewright.bench.setup import Setup
from pulsewright.fit.evidence import Evidence
from pulsewright.fit.observations import Observed


@dataclass(frozen=True, slots=True, kw_only=True)
class ErrorBelief:
    """Standard deviations [-] of smooth errors, and how far they stay alike."""

    common: float
    exhaust: float
    own: float
    jets: float = 0.0
    length: float = 500.0  # [rpm]
    size_length: float = 0.1  # of the logarithm of the jets' area: two numbers of a jet

    @property
    def elsewhere(self) -> float:
        """What the common part leaves open for a setup that was never pulled. [-]"""
        return float(np.hypot(self.exhaust, self.own))

    def alike(self, rpm: np.ndarray, other: np.ndarray) -> np.ndarray:
        """Correlation of smooth curves between speeds. (n, m)"""
        return np.exp(-0.5 * (np.subtract.outer(rpm, other) / self.length) ** 2)

    def alike_in_jets(self, size: np.ndarray, other: np.ndarray) -> np.ndarray:
        """Correlation of what jets err between two of their sizes, as `jet_size` gives them. (n, m)"""
        return np.exp(-0.5 * (np.subtract.outer(size, other) / self.size_length) ** 2)


TORQUE_ERROR = ErrorBelief(common=0.04, exhaust=0.02, own=0.01)  # relative
LAMBDA_ERROR = ErrorBelief(common=0.02, exhaust=0.015, own=0.01, jets=0.03)  # relative


SMALLEST_JETS = 1e-9  # [m²] of a sheet without any


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Points:
    """All measured values behind each other: torque of every setup, then lambda of every setup.

    A torque is the reading over the measured one, so 1 is what was measured; a lambda is the log of the reading
    over the measured one, so 0 is.
    """

    setup: np.ndarray  # (m,) index of the setup
    speed: np.ndarray  # (m,) index of the speed in that setup
    rpm: np.ndarray  # (m,)
    lambda_: np.ndarray  # (m,) bool
    exhaust: np.ndarray  # (m,) index of the first setup with the same exhaust
    jets: np.ndarray  # (m,) size of the setup's jets, as `jet_size` gives it
    evidence: Evidence


def points_of(setups: Sequence[Observed]) -> Points:
    """Measured values of setups with the covariance of everything that is not in the model."""
    rows = [
        (n, k, o.rpm[k], is_lambda)
        for is_lambda in (False, True)
        for n, o in enumerate(setups)
        for k in np.flatnonzero(np.isfinite(o.mixture if is_lambda else o.torque))
    ]
    setup, speed = (np.array([row[i] for row in rows], dtype=int) for i in (0, 1))
    rpm, lambda_ = np.array([row[2] for row in rows]), np.array([row[3] for row in rows], dtype=bool)
    noise = np.array([
        setups[n].mixture_sd[k] / setups[n].mixture[k] if is_lambda else setups[n].torque_sd[k]
        for n, k, _, is_lambda in rows
    ])  # fmt: skip
    exhaust = np.array([_first_alike(setups, n) for n in setup])
    jets = np.array([jet_size(o.setup) for o in setups])[setup]
    error = np.zeros((len(rows), len(rows)))
    for which, belief in ((~lambda_, TORQUE_ERROR), (lambda_, LAMBDA_ERROR)):
        at = np.ix_(which, which)
        same = np.equal.outer(exhaust[which], exhaust[which]), np.equal.outer(setup[which], setup[which])
        variance = belief.common**2 + belief.exhaust**2 * same[0] + belief.own**2 * same[1]
        error[at] = belief.alike(rpm[which], rpm[which]) * variance
        error[at] += belief.jets**2 * belief.alike_in_jets(jets[which], jets[which])
    gain = np.array([o.gain_sd for o in setups])[setup]
    shared = np.equal.outer(setup, setup) & np.logical_and.outer(~lambda_, ~lambda_)
    error += np.outer(gain, gain) * shared
    measured = np.where(lambda_, 0.0, 1.0)
    return Points(
        setup=setup, speed=speed, rpm=rpm, lambda_=lambda_, exhaust=exhaust, jets=jets,
        evidence=Evidence(measured=measured, error=error, noise=noise),
    )  # fmt: skip


def _first_alike(setups: Sequence[Observed], number: int) -> int:
    """Index of the first setup with the same exhaust."""
    return next(n for n, o in enumerate(setups) if o.setup.exhaust == setups[number].setup.exhaust)


def jet_size(setup: Setup) -> float:
    """Logarithm of the area of all fuel jets together [m²], by which setups with other jets are told apart."""
    bores = [bore for c in setup.carburettors for bore in (c.main_jet, c.intermediate_jet)]
    return math.log(max(sum(0.25 * math.pi * bore**2 for bore in bores), SMALLEST_JETS))
