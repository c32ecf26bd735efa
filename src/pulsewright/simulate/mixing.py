r"""Acceleration of the way to a periodic state: the next cycle starts from a mixture of the last ones.

With :math:`f_k = g(x_k) - x_k` the change of the state over cycle k, the weights that make the mixed
change smallest are those of a linear least-squares problem, and the next start is the same mixture of
the ends of the cycles:

.. math:: \min_w \Big\| f_n + \sum_{k<n} w_k (f_k - f_n) \Big\| , \qquad
          x_{n+1} = g(x_n) + \sum_{k<n} w_k (g(x_k) - g(x_n))

Source   D. G. Anderson, J. ACM 12 (1965) 547; H. F. Walker & P. Ni, SIAM J. Numer. Anal. 49 (2011) 1715.
Holds    near the end of the way. Where the change of the state grows, a mixture is not believed and the
         cycles go on by themselves, so that it can cost a cycle and never the answer.
"""

from __future__ import annotations

import numpy as np

from pulsewright.network.case import Case
from pulsewright.simulate.carried_state import CarriedState, Floats, believable, clip, lay_state, plus

DEPTH = 4  # earlier cycles that are mixed in
MOST_WEIGHT = 10.0  # sum of the sizes of their weights
KEPT_APART = 3e-3  # of the largest difference: cycles more alike than this are not told apart
GROWTH = 3.0  # of the change of the state, after which nothing is mixed any more


class Mixing:
    """The last cycles of a case at one speed, and the start that follows from them."""

    def __init__(self) -> None:
        self._ends: list[CarriedState] = []
        self._changes: list[Floats] = []
        self._trusted = True

    def follow(self, case: Case, end: CarriedState, change: Floats) -> CarriedState:
        """Take in the cycle that ended at `end`, where `case` is now, and lay the next start; returns it.

        change : of the state over that cycle, as `state_change` weighs it.
        """
        self._ends = [*self._ends[-DEPTH:], end]
        self._changes = [*self._changes[-DEPTH:], change]
        sizes = [float(np.linalg.norm(f)) for f in self._changes]
        if len(sizes) > 1 and not sizes[-1] <= GROWTH * sizes[-2]:
            self._trusted = False
        mixed = self._mixed() if self._trusted and len(sizes) > 1 else None
        if mixed is None:
            return end
        lay_state(case, mixed)
        return mixed

    def _mixed(self) -> CarriedState | None:
        last, end = self._changes[-1], self._ends[-1]
        apart = np.stack([f - last for f in self._changes[:-1]], axis=1)
        damping = KEPT_APART * np.max(np.linalg.norm(apart, axis=0)) * np.eye(apart.shape[1])
        wanted = np.concatenate([-last, np.zeros(apart.shape[1])])
        weights = np.linalg.lstsq(np.vstack([apart, damping]), wanted, rcond=None)[0]
        if not np.sum(np.abs(weights)) <= MOST_WEIGHT:
            return None
        mixed = end
        for weight, other in zip(weights, self._ends[:-1], strict=True):
            mixed = plus(mixed, float(weight), other, end)
        if not believable(mixed, end):
            return None
        clip(mixed)
        return mixed
