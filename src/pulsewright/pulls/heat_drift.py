"""Heat soak, warming up and pulls that do not belong, from the level model of whole pulls."""

from __future__ import annotations

import numpy as np

from pulsewright.pulls.finding import Finding, odds_of, odds_of_z
from pulsewright.pulls.pull_levels import PullLevels

CERTAIN = 2.0  # standard deviations
WORTH_SAYING = 0.005  # [-] of torque: half of what pulls scatter anyway
HOT_SPAN = 15.0  # [K] over the settled temperature; less is within one temperature window
ODD_SCATTERS = 3.0  # standard deviations of a pull
ODD_LEAST = 0.025  # [-] 3.5 times the usual 0.7 % scatter of pulls (common practice)


def heat_findings(levels: PullLevels, setup: list[str], head: np.ndarray) -> list[Finding]:
    """Loss with a hot head, gain while warming up, and setups measured at other temperatures."""
    found = []
    known = np.isfinite(head)
    if not known.any():
        return found
    over = np.where(known, head - levels.settled, 0.0)
    hot_loss = levels.hot * max(0.0, float(over.max()))
    if over.max() > HOT_SPAN and -hot_loss > WORTH_SAYING and levels.hot < -CERTAIN * levels.hot_sd:
        found.append(_heat("heat soak", abs(levels.hot / levels.hot_sd),
            f"torque falls {-1000 * levels.hot:.1f} % for each 10 K the head is over {levels.settled - 273.15:.0f} degC, "
            f"{-100 * hot_loss:.1f} % at the hottest pull{_unlike(setup, head)}"))  # fmt: skip
    cold_loss = levels.cold * min(0.0, float(over.min()))
    if -cold_loss > WORTH_SAYING and levels.cold > CERTAIN * levels.cold_sd:
        found.append(_heat("warm-up", abs(levels.cold / levels.cold_sd),
            f"torque is {-100 * cold_loss:.1f} % lower in the coldest pull than at {levels.settled - 273.15:.0f} degC"))  # fmt: skip
    return found


def _heat(kind: str, z: float, evidence: str) -> Finding:
    return Finding(kind=kind, setup=None, pull=None, rpm=None, strength=odds_of_z(z), evidence=evidence)


def _unlike(setup: list[str], head: np.ndarray) -> str:
    """Says when setups were measured at different head temperatures."""
    means = {name: np.nanmean(head[[s == name for s in setup]]) for name in dict.fromkeys(setup)}
    coldest, hottest = min(means, key=lambda k: means[k]), max(means, key=lambda k: means[k])
    apart = means[hottest] - means[coldest]
    if not apart > HOT_SPAN:
        return ""
    return f"; {hottest} was measured {apart:.0f} K hotter than {coldest}: a difference between them is partly heat"


def odd_pulls(levels: PullLevels, setup: list[str]) -> list[Finding]:
    """Pulls whose level lies far from their setup's after heat and drift."""
    limit = max(ODD_LEAST, ODD_SCATTERS * levels.scatter)
    return [
        Finding(
            kind="odd pull", setup=setup[k], pull=k + 1, rpm=None, strength=odds_of(abs(rest) / limit),
            evidence=f"lies {100 * rest:+.1f} % from the other pulls of {setup[k]} (limit {100 * limit:.1f} %)",
        )
        for k, rest in enumerate(levels.residual)
        if abs(rest) > limit
    ]  # fmt: skip
