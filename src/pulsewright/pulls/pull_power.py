"""How many pulls show a difference of a given size: power of the two-sided t test of two setups.

Source   noncentral t distribution; whole pulls are the unit, the scatter is that of one pull.
Holds    where drift drops out of the difference: orders A-B-B-A and A-B-A.
Refit    taking parts apart and putting them together again shifts all pulls of that assembly alike; more
         pulls do not shrink it, more reassemblies do.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

POWER = 0.8  # common practice, no published source: four times in five
SIGNIFICANCE = 0.05
MOST_PULLS = 500  # a side; nobody makes more


@dataclass(frozen=True, slots=True, kw_only=True)
class PullsNeeded:
    """What it takes to resolve a difference."""

    effect_percent: float
    first: int  # more pulls of the first setup
    second: int | None  # more pulls of the second; None: no number of pulls does, refit covers it
    power_now: float  # [-] of the pulls that there are
    text: str

    def as_json(self) -> dict[str, object]:
        """Plain values."""
        return {
            "effect_percent": self.effect_percent, "more_pulls_first": self.first,
            "more_pulls_second": self.second, "power_now": round(self.power_now, 3), "text": self.text,
        }  # fmt: skip


def power(effect: float, sd: float, freedom: float, *, significance: float = SIGNIFICANCE) -> float:
    """Probability that a two-sided test finds `effect`. [-]

    effect, sd : true difference and standard deviation of its estimate, same unit. freedom : of that
    standard deviation.
    """
    from scipy.stats import nct, t

    if sd <= 0.0:
        return 1.0 if effect else significance
    critical = float(t.isf(significance / 2.0, freedom))
    shift = abs(effect) / sd
    if shift > 30.0:  # far beyond any critical value of use; the distribution's series fail there
        return 1.0
    return float(nct.sf(critical, freedom, shift)) + float(nct.cdf(-critical, freedom, shift))


def pulls_a_side(effect: float, scatter: float, *, wanted: float = POWER) -> int | None:
    """Pulls of each setup where nothing is known beforehand; the scatter is estimated from them alone.

    effect, scatter : true difference and standard deviation of one pull, same unit. None above 500.
    """
    for n in range(2, MOST_PULLS + 1):
        if power(effect, scatter * math.sqrt(2.0 / n), 2.0 * n - 2.0) >= wanted:
            return n
    return None
