"""Fair shares of a gain that several switches make together.

Source   L. S. Shapley, A value for n-person games, Contributions to the Theory of Games II (1953) 307:
         the gain of each member averaged over all orders in which the members can join.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations
from math import factorial


def shapley(members: Sequence[str], value: Mapping[frozenset[str], float]) -> dict[str, float]:
    """Each member's average gain; `value` holds every subset of `members`. The gains add up to the whole."""
    n = len(members)
    gains = dict.fromkeys(members, 0.0)
    for member in members:
        others = [m for m in members if m != member]
        for size in range(n):
            weight = factorial(size) * factorial(n - size - 1) / factorial(n)
            for group in combinations(others, size):
                before = frozenset(group)
                gains[member] += weight * (value[before | {member}] - value[before])
    return gains


def subsets(members: Sequence[str]) -> list[frozenset[str]]:
    """All subsets, the empty one first."""
    return [frozenset(group) for size in range(len(members) + 1) for group in combinations(members, size)]
