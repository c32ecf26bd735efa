"""Pulls that do not belong: far from the others of their setup, heat and drift taken out."""

from __future__ import annotations

import math

import numpy as np

from pulsewright.pulls.finding import Finding, odds_of
from pulsewright.pulls.limits import USUAL, Limits
from pulsewright.pulls.pull_levels import SCATTER_FREEDOM, SCATTER_PRIOR, PullLevels


def odd_pulls(levels: PullLevels, setup: list[str], numbers: list[int], limits: Limits = USUAL) -> list[Finding]:
    """Pulls whose level lies far from the others of their setup, against the scatter of all others.

    setup, numbers : name and session number of every pull that the level model has seen.
    """
    from scipy.stats import t

    found = []
    names = np.array(setup)
    for k in range(len(setup)):
        others = np.flatnonzero((names == setup[k]) & (np.arange(names.size) != k))
        if others.size < 2:
            continue
        off = float(levels.residual[k] - levels.residual[others].mean())
        scatter, freedom = _scatter_without(k, levels.residual, names)
        reach = float(t.ppf(1.0 - limits.odd_chance / 2.0, freedom)) * scatter * math.sqrt(1.0 + 1.0 / others.size)
        limit = max(limits.odd_distance, reach)
        if abs(off) > limit:
            found.append(
                Finding(
                    kind="odd pull", setup=setup[k], pull=numbers[k], rpm=None, strength=odds_of(abs(off) / limit),
                    evidence=f"lies {100 * off:+.1f} % from the other pulls of {setup[k]} "
                    f"(limit {100 * limit:.1f} %, heat and drift taken out)",
                )
            )  # fmt: skip
    return found


def _scatter_without(k: int, residual: np.ndarray, names: np.ndarray) -> tuple[float, float]:
    """Scatter of pulls without pull k, steadied by the prior [-], and its degrees of freedom."""
    squares, freedom = SCATTER_FREEDOM * SCATTER_PRIOR**2, SCATTER_FREEDOM
    for name in dict.fromkeys(names):
        rest = residual[(names == name) & (np.arange(names.size) != k)]
        if rest.size:
            squares += float(((rest - rest.mean()) ** 2).sum())
            freedom += rest.size - 1
    return math.sqrt(squares / freedom), freedom
