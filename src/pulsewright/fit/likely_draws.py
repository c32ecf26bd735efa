"""Draws from the posterior whose every one is a run of the model: randomised maximum likelihood.

Each draw is the best answer to a problem whose measured values and prior means have been moved by as much as
they are uncertain. Exact where the model is straight; elsewhere every draw is put right by steps that use what
the model said at the draw itself (D. S. Oliver, N. He & A. C. Reynolds, ECMOR V (1996); from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve

from pulsewright.fit.evidence import Evidence
from pulsewright.fit.gauss_newton import Best, Prior, broyden, curvature

RunMany = Callable[[list[np.ndarray]], list[np.ndarray]]  # (n,) each to (m,) each


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawn:
    """Draws, one a row."""

    z: np.ndarray  # (draws, n)
    value: np.ndarray  # (draws, m) the model there
    error: np.ndarray  # (draws, m) the smooth error that was drawn beforehand with each
    noise: np.ndarray  # (draws, m) the noise, likewise


def likely_draws(
    run_many: RunMany, best: Best, evidence: Evidence, prior: Prior, count: int, seed: int, *, rounds: int = 1
) -> Drawn:
    """`count` draws about the best answer; `rounds` of correction by what the model says at them."""
    random = np.random.default_rng(seed)
    spread = 1.0 / np.sqrt(np.maximum(prior.precision, 1e-300))
    means = prior.mean + spread * random.standard_normal((count, prior.mean.size)) * (prior.precision > 0.0)
    error = random.standard_normal((count, evidence.measured.size)) @ _root(evidence.error).T
    noise = random.standard_normal(error.shape) * evidence.noise / np.sqrt(best.weight) * np.logical_not(evidence.sure)
    targets = evidence.measured - error - noise
    each = [_Draw(best, mean, target, prior) for mean, target in zip(means, targets, strict=True)]
    for _ in range(rounds + 1):
        moving = [draw for draw in each if draw.propose()]
        for draw, value in zip(moving, run_many([draw.tried for draw in moving]), strict=True):
            draw.judge(value)
    return Drawn(z=np.array([d.z for d in each]), value=np.array([d.value for d in each]), error=error, noise=noise)


def _root(covariance: np.ndarray) -> np.ndarray:
    """A matrix whose product with its transpose is the covariance; this may be singular."""
    values, vectors = np.linalg.eigh(covariance)
    return vectors * np.sqrt(np.maximum(values, 0.0))


class _Draw:
    """One draw on its way."""

    def __init__(self, best: Best, mean: np.ndarray, target: np.ndarray, prior: Prior) -> None:
        self.z, self.value, self.slopes = best.z, best.value, best.slopes
        self.tried = best.z
        self._inverse, self._mean, self._target, self._prior = best.inverse_spread, mean, target, prior

    def propose(self) -> bool:
        """The next point to try; False where the last one is the answer already."""
        hessian = curvature(self.slopes, self._inverse, self._prior)
        downhill = self.slopes.T @ self._inverse @ (self._target - self.value)
        downhill -= self._prior.precision * (self.z - self._mean)
        step = cho_solve(cho_factor(hessian), downhill)
        self.tried = self._prior.inside(self.z + step)
        return bool(np.max(np.abs(self.tried - self.z), initial=0.0) > 1e-9)

    def judge(self, value: np.ndarray) -> None:
        """Take the point that was tried if it is the better answer, and learn from it anyway."""
        self.slopes = broyden(self.slopes, self.tried - self.z, value - self.value)
        if self._cost(self.tried, value) < self._cost(self.z, self.value):
            self.z, self.value = self.tried, value

    def _cost(self, z: np.ndarray, value: np.ndarray) -> float:
        residual, stray = self._target - value, z - self._mean
        return float(residual @ self._inverse @ residual + np.sum(self._prior.precision * stray**2))
