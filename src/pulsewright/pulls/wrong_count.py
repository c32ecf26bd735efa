"""Pulls whose engine speed is miscounted: too many faulty samples, or the whole pull at another count.

With a roller the ratio of a whole pull is held against the session's. Without one, a pull that starts and
ends at twice or half the speed of the others was counted twice or half: nobody pulls so.
"""

from __future__ import annotations

import numpy as np

from pulsewright.pulls.finding import Finding, odds_of
from pulsewright.pulls.limits import USUAL, Limits
from pulsewright.pulls.pull import Pull
from pulsewright.pulls.slip import ratio_of

HABIT = 0.03  # [-] clamps lose or double 1 to 3 % of samples as a habit (common practice)
HABIT_CHANCE = 0.0005  # that a habit of 3 % shows as many in a pull: 1.5 % of sessions of thirty pulls
COUNTS = (2.0, 0.5)
NEAR_COUNT = 0.15  # [-] from one of these counts, at both ends of a pull


def counts(pulls: list[Pull]) -> np.ndarray:
    """Engine speed of whole pulls as a multiple of the session's, by the roller. (n_pull,) NaN without one"""
    middles = np.array([float(np.median(ratio)) if ratio.size else np.nan for _, ratio in map(ratio_of, pulls)])
    return middles / np.nanmedian(middles) if np.isfinite(middles).any() else middles


def miscounted(pulls: list[Pull], limits: Limits = USUAL) -> dict[int, str]:
    """Pulls (from 0) whose count does not belong to the session, and how that shows."""
    wrong = {}
    for k, count in enumerate(counts(pulls)):
        if abs(count - 1.0) > limits.pickup_ratio:  # never true for NaN
            wrong[k] = f"{count:.2f} times what the roller shows in the other pulls"
    if all(pull.roller_speed is None for pull in pulls) and len(pulls) > 2:
        wrong.update(_by_ends(pulls))
    return wrong


def _by_ends(pulls: list[Pull]) -> dict[int, str]:
    ends = np.array([np.percentile(p.engine_speed[_trusted(p)], (2.0, 98.0)) for p in pulls])
    ratio = ends / np.median(ends, axis=0)
    wrong = {}
    for k, both in enumerate(ratio):
        for count in COUNTS:
            if np.all(np.abs(both / count - 1.0) < NEAR_COUNT):
                wrong[k] = f"{count:g} times that of the other pulls from start to end"
    return wrong


def _trusted(pull: Pull) -> np.ndarray:
    return ~pull.faulty if pull.faulty is not None else np.isfinite(pull.engine_speed)


def pickup_findings(pulls: list[Pull], wrong: dict[int, str], limits: Limits = USUAL) -> list[Finding]:
    """Faulty samples, and whole pulls that are `miscounted`."""
    found = []
    for number, pull in enumerate(pulls, start=1):
        most = most_faults(pull.engine_speed.size, limits.pickup_share)
        if pull.pickup_faults > most:
            found.append(_finding(pull, number, odds_of(pull.pickup_faults / most),
                f"engine speed dropped, doubled or halved in {pull.pickup_faults} of {pull.engine_speed.size} "
                f"samples (limit {most:.0f}); they are left out"))  # fmt: skip
        if number - 1 in wrong:
            found.append(_finding(pull, number, 3.0,
                f"engine speed is {wrong[number - 1]}: another gear or a wrong count; "
                "the pull is left out"))  # fmt: skip
    return found


def most_faults(samples: int, share: float) -> float:
    """Faulty samples that a sound clamp may show in a pull: the binomial tail of its habit."""
    from scipy.stats import binom

    return max(share * samples, float(binom.isf(HABIT_CHANCE, samples, HABIT)))


def _finding(pull: Pull, number: int, strength: float, evidence: str) -> Finding:
    return Finding(kind="pick-up", setup=pull.setup, pull=number, rpm=None, strength=strength, evidence=evidence)
