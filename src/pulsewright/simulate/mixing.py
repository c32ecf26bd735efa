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
from pulsewright.simulate.carried_state import (
    CYLINDER,
    GAS,
    ROOM,
    CarriedState,
    Floats,
    believable,
    carried_state,
    clip,
    lay_state,
    plus,
)

DEPTH = 2  # earlier cycles that are mixed in
MOST_WEIGHT = 3.0  # sum of the sizes of their weights
KEPT_APART = 1e-2  # of the largest difference: cycles more alike than this are not told apart
GROWTH = 1.5  # of the change of the state, after which nothing is mixed any more

# What a change is measured by: one unit of each counts the same.
GAS_UNITS = {"p": 1e5, "u": 100.0, "T": 800.0, "yb": 1.0, "yv": 0.1, "wall": 300.0}
CYLINDER_UNITS = {"p": 5e6, "T": 1000.0, "yb": 1.0, "yv": 0.1}
CYLINDER_SHARE = 0.3  # of the weight of all ducts together, for each cylinder


class Mixing:
    """The last cycles of a case at one speed, and the start that follows from them."""

    def __init__(self, case: Case) -> None:
        inverse = case.arrays["cells"]["inverse_volume"][0]
        volume = np.divide(1.0, inverse, out=np.zeros_like(inverse), where=inverse > 0.0)
        self._weight = np.sqrt(volume / np.sum(volume))
        self._rooms = case.arrays["cylinders"]["reservoir"]
        self._ends: list[CarriedState] = []
        self._changes: list[Floats] = []
        self._trusted = True

    def follow(self, case: Case, start: CarriedState) -> CarriedState:
        """Take in the cycle that went from `start` to where `case` is now, and lay the next start; returns it."""
        end = carried_state(case)
        self._ends = [*self._ends[-DEPTH:], end]
        self._changes = [*self._changes[-DEPTH:], self._measure(end) - self._measure(start)]
        sizes = [float(np.linalg.norm(f)) for f in self._changes]
        if len(sizes) > 1 and not sizes[-1] <= GROWTH * sizes[-2]:
            self._trusted = False
        mixed = self._mixed() if self._trusted and len(sizes) > 1 else None
        if mixed is None:
            return end
        lay_state(case, mixed)
        return mixed

    def _measure(self, state: CarriedState) -> Floats:
        gas = [state.gas[GAS.index(f)] * (self._weight / unit) for f, unit in GAS_UNITS.items()]
        rooms = state.tables["reservoirs"][self._rooms]
        cylinders = [rooms[:, ROOM.index(f)] * (CYLINDER_SHARE / unit) for f, unit in CYLINDER_UNITS.items()]
        return np.concatenate([*gas, *cylinders, state.tables["cylinders"][:, CYLINDER.index("complete")]])

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
