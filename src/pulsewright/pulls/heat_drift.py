"""Heat soak, warming up and pulls that do not belong, from the level model of whole pulls.

Heat soak is said whenever the head left its temperature window, unless the pulls show that it cost nothing:
the condition is measured, and a few pulls cannot show a loss of 1 or 2 % by themselves.
"""

from __future__ import annotations

import math

import numpy as np

from pulsewright.pulls.finding import GREATEST_STRENGTH, Finding, odds_of, odds_of_z
from pulsewright.pulls.pull_levels import SCATTER_FREEDOM, SCATTER_PRIOR, PullLevels

CERTAIN = 2.0  # standard deviations
KNOWN_EFFECT = 0.5  # log10 odds of a loss once the head left its window: common practice knows 0.5 to 3 % over a string
WORTH_SAYING = 0.005  # [-] of torque: half of what pulls scatter anyway
HOT_SPAN = 15.0  # [K] over the settled temperature; less is within one temperature window
ODD_CHANCE = 0.001  # that a sound pull is called odd: 1 % of sessions of ten pulls
ODD_LEAST = 0.025  # [-] 3.5 times the usual 0.7 % scatter of pulls (common practice)


def heat_findings(levels: PullLevels, setup: list[str], head: np.ndarray) -> list[Finding]:
    """Loss with a hot head, gain while warming up, and setups measured at other temperatures."""
    found = []
    known = np.isfinite(head)
    if not known.any():
        return found
    over = np.where(known, head - levels.settled, 0.0)
    hot_loss = levels.hot * max(0.0, float(over.max()))
    if over.max() > HOT_SPAN and levels.hot < levels.hot_sd:
        z = max(0.0, -levels.hot / levels.hot_sd)
        found.append(
            _heat(
                "heat soak",
                KNOWN_EFFECT + odds_of_z(z),
                f"the head was up to {over.max():.0f} K over the session's settled "
                f"{levels.settled - 273.15:.0f} degC; torque "
                f"there is {100 * hot_loss:+.1f} % ({z:.1f} standard deviations{_unlike(setup, head)}",
            )
        )
    cold_loss = levels.cold * min(0.0, float(over.min()))
    if -cold_loss > WORTH_SAYING and levels.cold > CERTAIN * levels.cold_sd:
        found.append(
            _heat(
                "warm-up",
                odds_of_z(levels.cold / levels.cold_sd),
                f"torque is {-100 * cold_loss:.1f} % lower in the coldest pull than at "
                f"{levels.settled - 273.15:.0f} degC",
            )
        )
    return found


def _heat(kind: str, strength: float, evidence: str) -> Finding:
    strength = min(GREATEST_STRENGTH, strength)
    return Finding(kind=kind, setup=None, pull=None, rpm=None, strength=strength, evidence=evidence)


def _unlike(setup: list[str], head: np.ndarray) -> str:
    """Says when setups were measured at different head temperatures."""
    means = {name: np.nanmean(head[[s == name for s in setup]]) for name in dict.fromkeys(setup)}
    coldest, hottest = min(means, key=lambda k: means[k]), max(means, key=lambda k: means[k])
    apart = means[hottest] - means[coldest]
    if not apart > HOT_SPAN:
        return ")"
    return f"); {hottest} was measured {apart:.0f} K hotter than {coldest}: a difference between them is partly heat"


def odd_pulls(levels: PullLevels, setup: list[str]) -> list[Finding]:
    """Pulls whose level lies far from the others of their setup, against the scatter of all others."""
    from scipy.stats import t

    found = []
    names = np.array(setup)
    for k in range(len(setup)):
        others = np.flatnonzero((names == setup[k]) & (np.arange(names.size) != k))
        if others.size < 2:
            continue
        off = float(levels.residual[k] - levels.residual[others].mean())
        scatter, freedom = _scatter_without(k, levels.residual, names)
        reach = float(t.ppf(1.0 - ODD_CHANCE / 2.0, freedom)) * scatter * math.sqrt(1.0 + 1.0 / others.size)
        limit = max(ODD_LEAST, reach)
        if abs(off) > limit:
            evidence = (
                f"lies {100 * off:+.1f} % from the other pulls of {setup[k]} "
                f"(limit {100 * limit:.1f} %, heat and drift taken out)"
            )
            strength = odds_of(abs(off) / limit)
            found.append(
                Finding(
                    kind="odd pull",
                    setup=setup[k],
                    pull=k + 1,
                    rpm=None,
                    strength=strength,
                    evidence=evidence,
                )
            )
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
