"""Prior and evidence together: how likely each cause is, and the verdict.

Weights add up, within a limit for each cause. That what is called 80 % sure is right in about 80 of 100 sessions is
checked on simulated sessions with known causes of every kind (tests/unit/cause/test_verdicts_study.py); those are
tidier than a workshop, so the verdict is kept on the careful side of them.
"""

from __future__ import annotations

from collections.abc import Iterable

from pulsewright.cause.causes import CANNOT_TELL, PRIOR
from pulsewright.cause.evidence import Evidence

MOST_SURE = 0.97  # a handful of pulls never makes certain
SURE_ENOUGH = 0.5  # below this the best cause is no verdict
MOST_WEIGHT = 3.0  # all evidence about one cause together


def probabilities(evidence: Iterable[Evidence]) -> dict[str, float]:
    """Probability of every cause, adding up to 1."""
    rows = list(evidence)
    odds = {}
    for cause, prior in PRIOR.items():
        said = sum(e.says.get(cause, 0.0) for e in rows)
        odds[cause] = prior * 10.0 ** min(max(said, -MOST_WEIGHT), MOST_WEIGHT)
    total = sum(odds.values())
    return {cause: value / total for cause, value in odds.items()}


def verdict(chances: dict[str, float]) -> tuple[str, float]:
    """The likeliest cause and its probability, or 'cannot tell' where none is likely enough."""
    best = max(chances, key=lambda c: chances[c])
    if chances[best] < SURE_ENOUGH:
        return CANNOT_TELL, 1.0 - chances[best]
    return best, min(chances[best], MOST_SURE)
