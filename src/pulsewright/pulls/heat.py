"""Heat soak and warming up, from the level model of whole pulls.

Heat soak is said whenever the head left its temperature window, unless the pulls show that it cost nothing:
the condition is measured, and a few pulls cannot show a loss of 1 or 2 % by themselves.
"""

from __future__ import annotations

import numpy as np

from pulsewright.pulls.finding import GREATEST_STRENGTH, Finding, odds_of_z
from pulsewright.pulls.limits import USUAL, Limits
from pulsewright.pulls.pull_levels import PullLevels

CERTAIN = 2.0  # standard deviations
KNOWN_EFFECT = 0.5  # log10 odds of a loss once the head left its window: common practice knows 0.5 to 3 % over a string


def heat_findings(levels: PullLevels, setup: list[str], head: np.ndarray, limits: Limits = USUAL) -> list[Finding]:
    """Loss with a hot head, gain while warming up, and setups measured at other temperatures.

    head : (n_pull,) at the start of each pull [K], NaN unknown.
    """
    found = []
    known = np.isfinite(head)
    if not known.any():
        return found
    over = np.where(known, head - levels.settled, 0.0)
    settled = levels.settled - 273.15
    if over.max() > limits.hot_head and levels.hot < levels.hot_sd:
        z = max(0.0, -levels.hot / levels.hot_sd)
        loss = -100.0 * levels.hot * float(over.max())
        cost = f"that cost about {loss:.1f} % of torque" if loss > 0.0 else "torque did not fall with it"
        apart = _unlike(setup, head, limits.hot_head)
        text = f"the head was up to {over.max():.0f} K hotter than the settled {settled:.0f} degC; {cost} "
        found.append(_heat("heat soak", KNOWN_EFFECT + odds_of_z(z), f"{text}({z:.1f} standard deviations){apart}"))
    cold_loss = -levels.cold * min(0.0, float(over.min()))
    if cold_loss > limits.cold_loss and levels.cold > CERTAIN * levels.cold_sd:
        text = f"torque is {100 * cold_loss:.1f} % lower in the coldest pull, {float(-over.min()):.0f} K under the "
        text += f"settled {settled:.0f} degC; comparisons have it taken out"
        found.append(_heat("warm-up", odds_of_z(levels.cold / levels.cold_sd), text))
    return found


def _heat(kind: str, strength: float, evidence: str) -> Finding:
    strength = min(GREATEST_STRENGTH, strength)
    return Finding(kind=kind, setup=None, pull=None, rpm=None, strength=strength, evidence=evidence)


def _unlike(setup: list[str], head: np.ndarray, span: float) -> str:
    """Says when setups were measured at different head temperatures."""
    means = {name: np.nanmean(head[[s == name for s in setup]]) for name in dict.fromkeys(setup)}
    coldest, hottest = min(means, key=lambda k: means[k]), max(means, key=lambda k: means[k])
    apart = means[hottest] - means[coldest]
    if not apart > span:
        return ""
    return f"; {hottest} was measured {apart:.0f} K hotter than {coldest}: a difference between them is partly heat"
