r"""What was measured, and how far an honest model may lie from it.

.. math:: m = y(z) + e + \epsilon, \quad e \sim N(0, E), \quad \epsilon_i \sim \sigma_i \, t_\nu

`e` is smooth model error and what whole setups share; `epsilon` is the noise of single points. Student's t for
the noise is a normal whose precision w is unknown, and w is found by expectation-maximisation, so that a point
that nothing smooth explains counts for little (K. L. Lange, R. J. A. Little & J. M. G. Taylor, J. Am. Stat.
Assoc. 84 (1989) 881; from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve

ROUNDS, STILL = 40, 1e-4  # of the search for the weights


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Evidence:
    """Measured values with the spread of everything that is not in the model.

    measured : (m,). error : (m, m) covariance of smooth errors. noise : (m,) standard deviation of a point.
    freedom : of Student's t, infinite for normal noise. sure : (m,) bool, points that nothing makes count for less.
    """

    measured: np.ndarray
    error: np.ndarray
    noise: np.ndarray
    freedom: float = 4.0
    sure: np.ndarray | bool = False

    def spread(self, weight: np.ndarray) -> np.ndarray:
        """Covariance of measured values about the model's, for weights of the points. (m, m)"""
        return self.error + np.diag(self.noise**2 / weight)

    def precision(self, residual: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Inverse of the spread and the weights (m,) that residuals (m,) ask for. (m, m), (m,)"""
        weight = np.ones(self.measured.size)
        for _ in range(ROUNDS):
            factor = cho_factor(self.spread(weight), lower=True)
            inverse = cho_solve(factor, np.eye(weight.size))
            if not math.isfinite(self.freedom):
                return inverse, weight
            variance = self.noise**2 / weight
            left = variance * (inverse @ residual)
            square = left**2 + variance - variance**2 * np.diag(inverse)
            renewed = (self.freedom + 1.0) / (self.freedom + square / self.noise**2)
            renewed = np.where(self.sure, 1.0, renewed)
            if np.max(np.abs(renewed / weight - 1.0)) < STILL:
                break
            weight = renewed
        return inverse, weight
