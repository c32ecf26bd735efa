r"""How fast a disturbance of a state that repeats itself grows from cycle to cycle, as the cycles so far show it.

Near such a state the difference of two starts becomes another one over a cycle, by a linear map that is always
the same. Of that map the cycles show the part that works on the differences of their starts:

.. math:: \Delta X^T \Delta X = V \Sigma^2 V^T , \qquad M = \Sigma^{-1} V^T \Delta X^T \Delta G \, V \Sigma^{-1} ,

with :math:`\Delta X` the differences of starts and :math:`\Delta G` those of the ends that follow from them. Where
an eigenvalue of M is larger than one, cycles that follow each other as they come leave the state.

Source   dynamic mode decomposition: P. J. Schmid, J. Fluid Mech. 656 (2010) 5.
Holds    for what the cycles differ by. A disturbance that none of them had is not seen.
"""

from __future__ import annotations

import numpy as np

from pulsewright.simulate.carried_state import Floats

SHOWN = 0.03  # of the largest: differences whose own direction is smaller than this are not told apart


class Trail:
    """Where the cycles of a speed started, and how the state changed over each."""

    def __init__(self) -> None:
        self._starts: list[Floats] = []
        self._changes: list[Floats] = []

    def add(self, start: Floats, change: Floats) -> None:
        """Take in a cycle, as `state_change` weighs it. start : from the first start of all. (numbers,)"""
        self._starts.append(start)
        self._changes.append(change)

    def growth(self, last: int | None = None) -> float:
        """Size of the largest eigenvalue that the `last` cycles show, all of them by default; 0 of a single one."""
        starts, changes = (rows[-last:] if last else rows for rows in (self._starts, self._changes))
        if len(starts) < 2:
            return 0.0
        apart = np.array([x - starts[-1] for x in starts[:-1]])
        size = np.linalg.norm(apart, axis=1, keepdims=True)
        if not np.all(size > 0.0):
            return 0.0
        moved = (apart + np.array([f - changes[-1] for f in changes[:-1]])) / size
        apart /= size
        # products by einsum: a library for matrices would wake threads for them that cost more than they do
        share, own = np.linalg.eigh(np.einsum("ik,jk->ij", apart, apart))
        told = share > SHOWN**2 * share[-1]
        basis = own[:, told] / np.sqrt(share[told])
        return float(np.max(np.abs(np.linalg.eigvals(basis.T @ np.einsum("ik,jk->ij", apart, moved) @ basis))))
