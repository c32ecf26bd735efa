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
    first: int | None  # more pulls of the first setup
    second: int | None  # more pulls of the second; both None: pulls alone cannot
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


def pulls_needed(
    effect_percent: float, *, scatter: float, counts: tuple[int, int], freedom: float, refit_sd: float = 0.0
) -> PullsNeeded:
    """How many more pulls of each setup resolve `effect_percent` four times in five.

    scatter : standard deviation of one pull [-]. counts : pulls that there are. freedom : of the scatter.
    refit_sd : standard deviation that refitting gives the difference [-]; 0: nothing was taken apart.
    """
    effect = math.log1p(effect_percent / 100.0)
    first, second = counts

    def reached() -> float:
        sd = math.hypot(scatter * math.sqrt(1.0 / first + 1.0 / second), refit_sd)
        return power(effect, sd, freedom + first + second - sum(counts))

    now = reached()
    while reached() < POWER:
        if min(first, second) >= MOST_PULLS or power(effect, refit_sd, math.inf) < POWER:
            return _out_of_reach(effect_percent, effect, refit_sd, now)
        grow = min(first, second)
        first, second = first + (first == grow), second + (second == grow)
    more = first - counts[0], second - counts[1]
    return PullsNeeded(
        effect_percent=effect_percent, first=more[0], second=more[1], power_now=now,
        text=f"these pulls show a change of {effect_percent:g} % {_odds(now)}"
        if not any(more)
        else f"{more[0]} more of the first and {more[1]} more of the second, in the order A-B-B-A, would "
        f"show a change of {effect_percent:g} % four times in five; these pulls show it {_odds(now)}",
    )  # fmt: skip


def _out_of_reach(effect_percent: float, effect: float, refit_sd: float, now: float) -> PullsNeeded:
    times = math.ceil((refit_sd * (1.960 + 0.842) / effect) ** 2) if refit_sd else None
    remedy = f"put each setup together afresh {times} times" if times else "no sensible number of pulls does"
    return PullsNeeded(
        effect_percent=effect_percent, first=None, second=None, power_now=now,
        text=f"more pulls alone cannot show a change of {effect_percent:g} %: {remedy}",
    )  # fmt: skip


def _odds(probability: float) -> str:
    return f"{probability:.0%} of the time".replace("%", " %")
