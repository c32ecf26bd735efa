"""The model's own errors, read off from what it leaves of the pulls.

A Gaussian process seen through noise (C. E. Rasmussen & C. K. I. Williams, Gaussian Processes for Machine Learning,
2006, ch. 2). Of every kind of error the first row is the mean, the others are drawn from what the pulls leave open.
"""

from __future__ import annotations

import numpy as np

from pulsewright.fit.model_error import ErrorBelief, Points

LARGEST_ERROR = 0.25  # of a draw


class ErrorCurves:
    """Errors of torque or of lambda where the model says `values` (draws, m) at all points.

    mine : (m,) bool, the points that are of torque or of lambda. inverse : (m, m) of the spread of all points.
    """

    def __init__(
        self, belief: ErrorBelief, points: Points, mine: np.ndarray, inverse: np.ndarray, values: np.ndarray,
        random: np.random.Generator,
    ) -> None:  # fmt: skip
        self._belief, self._random = belief, random
        self._rpm, self._exhaust = points.rpm[mine], points.exhaust[mine]
        self._inverse = inverse[np.ix_(mine, mine)]
        self._residual = (points.evidence.measured - values)[:, mine]

    def common(self, at: np.ndarray) -> np.ndarray:
        """What all setups share, at speeds. [rpm] -> (draws, n_speed) [-]"""
        alike, known = self._belief.alike(at, at), self._belief.alike(at, self._rpm)
        return self._drawn(self._belief.common, alike, known)

    def of_exhaust(self, at: np.ndarray, exhaust: int) -> np.ndarray:
        """The further error of setups with an exhaust, index as in `Points.exhaust`. [rpm] -> (draws, n_speed) [-]"""
        alike, known = self._belief.alike(at, at), self._belief.alike(at, self._rpm)
        return self._drawn(self._belief.exhaust, alike, known * (self._exhaust == exhaust))

    def _drawn(self, spread: float, alike: np.ndarray, known: np.ndarray) -> np.ndarray:
        """Curves of a standard deviation, from correlations among its places (n, n) and with the points (n, m)."""
        between = spread**2 * known
        mean = self._residual @ self._inverse @ between.T
        left = spread**2 * (alike + 1e-6 * np.eye(len(alike))) - between @ self._inverse @ between.T
        drawn = self._random.standard_normal(mean.shape) @ np.linalg.cholesky(left).T
        drawn[0] = 0.0
        return np.clip(mean + drawn, -LARGEST_ERROR, LARGEST_ERROR)


def rows_of(places: np.ndarray, factors: np.ndarray) -> tuple[tuple[float, float], ...]:
    """Rows (place, factor), as a draw keeps them."""
    return tuple(zip(places.tolist(), factors.tolist(), strict=True))
