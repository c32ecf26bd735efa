"""How many pulls show a difference of a given size: power of the two-sided t test of two setups.

Source   noncentral t distribution; whole pulls are the unit, the scatter is that of one pull.
Order    drift is left free, so the order of pulls counts: A-B-B-A costs nothing, A-A-B-B a wider interval. Pulls
         still to be made are put one after another where each tells most.
Refit    taking parts apart and putting them together again shifts all pulls of that assembly alike; more
         pulls do not shrink it, more reassemblies do.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

POWER = 0.8  # common practice, no published source: four times in five
SIGNIFICANCE = 0.05
MOST_PULLS = 500  # nobody makes more
MOST_LETTERS = 16  # of an order that is written out


@dataclass(frozen=True, slots=True, kw_only=True)
class PullsNeeded:
    """What it takes to resolve a difference."""

    effect_percent: float
    first: int | None  # more pulls of the first setup
    second: int | None  # more pulls of the second; both None: pulls alone cannot
    order: str  # of these pulls, one letter each: A is the first setup, B the second
    power_now: float  # [-] of the pulls that there are
    text: str

    def as_json(self) -> dict[str, object]:
        """Plain values."""
        return {
            "effect_percent": self.effect_percent, "more_pulls_first": self.first,
            "more_pulls_second": self.second, "order": self.order, "power_now": round(self.power_now, 3),
            "text": self.text,
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
    effect_percent: float, order: str, *, scatter: float, freedom: float, refit_sd: float = 0.0
) -> PullsNeeded:
    """How many more pulls of each setup, and in which order, resolve `effect_percent` four times in five.

    order : the pulls that there are, one letter each: A and B of the setups compared, others of others.
    scatter : standard deviation of one pull [-]. freedom : of the scatter. refit_sd : standard deviation that
    refitting gives the difference [-]; 0: nothing was taken apart.
    """
    effect = math.log1p(effect_percent / 100.0)

    def reached(pulls: str) -> float:
        sd = math.hypot(scatter * math.sqrt(order_variance(pulls)), refit_sd)
        return power(effect, sd, freedom + len(pulls) - len(order))

    now = chance = reached(order)
    if now < POWER and power(effect, refit_sd, math.inf) < POWER:
        return _out_of_reach(effect_percent, effect, refit_sd, now)
    pulls = order
    while chance < POWER:
        if len(pulls) - len(order) >= MOST_PULLS:
            return _out_of_reach(effect_percent, effect, refit_sd, now)
        pulls = min((pulls + letter for letter in "AB"), key=order_variance)
        chance = reached(pulls)
    more = pulls[len(order) :]
    first, second = more.count("A"), more.count("B")
    return PullsNeeded(
        effect_percent=effect_percent, first=first, second=second, order=more, power_now=now,
        text=f"these pulls show a change of {effect_percent:g} % {_odds(now)}"
        if not more
        else f"{first} more of the first and {second} more of the second ({_in_words(more)}) would show a change of "
        f"{effect_percent:g} % four times in five; these pulls show it {_odds(now)}",
    )  # fmt: skip


def order_variance(order: str) -> float:
    """Variance of the difference B less A that an order of pulls gives, drift left free; 1 is that of one pull.

    Where the order cannot tell drift from change (A-B, A-A-B), that of plain means.
    """
    letters = sorted(set(order))
    place = np.arange(len(order)) - (len(order) - 1) / 2.0
    design = np.array([[float(pull == letter) for letter in letters] for pull in order])
    contrast = np.array([{"A": -1.0, "B": 1.0}.get(letter, 0.0) for letter in letters])
    count = design.sum(axis=0)
    mean = design.T @ place / count
    within = place @ place - count @ mean**2
    plain = float((contrast**2 / count).sum())
    settled = within > 1e-9 and len(order) > len(letters) + 1
    return plain + float(contrast @ mean) ** 2 / within if settled else plain


def _out_of_reach(effect_percent: float, effect: float, refit_sd: float, now: float) -> PullsNeeded:
    times = math.ceil((refit_sd * (1.960 + 0.842) / effect) ** 2) if refit_sd else None
    remedy = f"put each setup together afresh {times} times" if times else "no sensible number of pulls does"
    return PullsNeeded(
        effect_percent=effect_percent, first=None, second=None, order="", power_now=now,
        text=f"more pulls alone cannot show a change of {effect_percent:g} %: {remedy}",
    )  # fmt: skip


def _in_words(order: str) -> str:
    """`ABBA` or, where that is long, its beginning."""
    return f"in the order {order}" if len(order) <= MOST_LETTERS else f"in the order {order[:MOST_LETTERS]} and so on"


def _odds(probability: float) -> str:
    return f"{probability:.0%} of the time".replace("%", " %")
