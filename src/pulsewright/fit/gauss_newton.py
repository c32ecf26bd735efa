"""Bounded least squares against evidence and prior, for models that take seconds a run.

Gauss-Newton steps with Levenberg's and Marquardt's damping (D. W. Marquardt, J. SIAM 11 (1963) 431). Slopes are
asked for where a step needs them; in between, every run that is made renews them along the step it took
(C. G. Broyden, Math. Comp. 19 (1965) 577).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from pulsewright.fit.evidence import Evidence

Run = Callable[[np.ndarray], np.ndarray]  # (n,) to (m,)
Slopes = Callable[[np.ndarray, np.ndarray], np.ndarray]  # (n,), (m,) to (m, n)

FIRST_DAMPING, LEAST_DAMPING, MOST_DAMPING = 1e-3, 1e-9, 1e6
SHORTER = 0.4  # of a step that did not pay


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prior:
    """Normal belief about every unknown, and its limits; precision 0 = nothing believed."""

    mean: np.ndarray  # (n,)
    precision: np.ndarray  # (n,)
    low: np.ndarray  # (n,)
    high: np.ndarray  # (n,)

    def inside(self, z: np.ndarray) -> np.ndarray:
        """The nearest point within the limits. (n,)"""
        return np.clip(z, self.low, self.high)


def standard_prior(low: np.ndarray, high: np.ndarray) -> Prior:
    """Belief in standard numbers: mean 0, spread 1. (n,)"""
    return Prior(mean=np.zeros(low.size), precision=np.ones(low.size), low=low, high=high)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Best:
    """Where a search ended."""

    z: np.ndarray  # (n,)
    value: np.ndarray  # (m,) of the model there
    slopes: np.ndarray  # (m, n)
    inverse_spread: np.ndarray  # (m, m) of measured about modelled values
    weight: np.ndarray  # (m,) of the points
    cost: float
    runs: int
    arrived: bool  # False: the runs allowed were used up


@dataclass(frozen=True, slots=True, kw_only=True)
class Search:
    """How long and how far to search."""

    most_runs: int = 30
    fresh_slopes: int = 1000  # accepted steps after which slopes are asked for again
    longest_step: float = np.inf  # of one unknown
    enough: float = 1e-10  # relative fall of the cost under which the search has arrived


def search_best(
    run: Run,
    slopes: Slopes,
    evidence: Evidence,
    prior: Prior,
    start: np.ndarray,
    search: Search | None = None,
    first_slopes: np.ndarray | None = None,
) -> Best:
    """The most likely unknowns, from `start` (n,). `first_slopes` (m, n) save the first asking."""
    search = search or Search()
    z, longest = prior.inside(np.asarray(start, float)), search.longest_step
    value, runs, damping, since = run(z), 1, FIRST_DAMPING, 0
    jacobian = slopes(z, value) if first_slopes is None else first_slopes
    fresh, arrived = first_slopes is None, False
    never_renewed = search.fresh_slopes > search.most_runs
    while True:
        inverse, weight = evidence.precision(evidence.measured - value)
        cost = cost_of(z, value, evidence, prior, inverse)
        if arrived or runs >= search.most_runs:
            break
        step, promised = _step(z, value, jacobian, evidence, prior, inverse, damping, longest)
        if promised <= search.enough * cost:
            if fresh or never_renewed:
                arrived = True
            else:
                jacobian, fresh, since = slopes(z, value), True, 0
            continue
        tried = run(z + step)
        runs += 1
        better = cost_of(z + step, tried, evidence, prior, inverse) < cost
        farthest = float(np.max(np.abs(step)))
        longest = min(search.longest_step, 2.0 * longest) if better else SHORTER * farthest
        if better or never_renewed:
            jacobian = broyden(jacobian, step, tried - value)
        if better:
            z, value, fresh, since = z + step, tried, False, since + 1
            damping = max(damping / 5.0, LEAST_DAMPING)
            if since >= search.fresh_slopes:
                jacobian, fresh, since = slopes(z, value), True, 0
        elif damping >= MOST_DAMPING:
            arrived = True
        elif fresh or never_renewed:
            damping *= 8.0
        else:
            jacobian, fresh, since = slopes(z, value), True, 0
    return Best(
        z=z, value=value, slopes=jacobian, inverse_spread=inverse, weight=weight, cost=cost, runs=runs, arrived=arrived
    )


def cost_of(z: np.ndarray, value: np.ndarray, evidence: Evidence, prior: Prior, inverse: np.ndarray) -> float:
    """Squared misfit of measured values and of the prior, at an inverse spread (m, m)."""
    residual, stray = evidence.measured - value, z - prior.mean
    return float(residual @ inverse @ residual + np.sum(prior.precision * stray**2))


def broyden(jacobian: np.ndarray, step: np.ndarray, change: np.ndarray) -> np.ndarray:
    """Slopes that agree with the change (m,) seen along a step (n,)."""
    length = float(step @ step)
    return jacobian if length == 0.0 else jacobian + np.outer(change - jacobian @ step, step) / length


def curvature(jacobian: np.ndarray, inverse: np.ndarray, prior: Prior) -> np.ndarray:
    """Inverse covariance of the unknowns, in the straight-line picture of the model. (n, n)"""
    return jacobian.T @ inverse @ jacobian + np.diag(prior.precision)


def _step(
    z: np.ndarray, value: np.ndarray, jacobian: np.ndarray, evidence: Evidence, prior: Prior, inverse: np.ndarray,
    damping: float, longest: float,
) -> tuple[np.ndarray, float]:  # fmt: skip
    """A step within the limits (n,), and the fall of the cost that it promises."""
    hessian = curvature(jacobian, inverse, prior)
    downhill = jacobian.T @ inverse @ (evidence.measured - value) - prior.precision * (z - prior.mean)
    free = ~(((z <= prior.low) & (downhill < 0.0)) | ((z >= prior.high) & (downhill > 0.0)))
    step = np.zeros(z.size)
    for _ in range(z.size):
        at = np.flatnonzero(free)
        if not at.size:
            break
        damped = hessian[np.ix_(at, at)] + damping * np.diag(np.maximum(np.diag(hessian)[at], 1e-300))
        held = downhill[at] - hessian[np.ix_(at, np.flatnonzero(~free))] @ step[~free]
        step[at] = np.linalg.solve(damped, held)
        step[at] *= min(1.0, longest / max(float(np.max(np.abs(step[at]))), 1e-300))
        over = free & ((z + step < prior.low) | (z + step > prior.high))
        if not over.any():
            break
        step[over] = prior.inside(z + step)[over] - z[over]
        free &= ~over
    return step, float(2.0 * downhill @ step - step @ hessian @ step)
