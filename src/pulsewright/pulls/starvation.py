"""Fuel starvation: the bowl runs low with time at load, so lambda climbs and torque falls late in a pull.

What the engine does at a speed it does in every pull of a setup. What starvation does depends on how long
the load has lasted, so it comes at another speed in a pull of another rate, or in some pulls and not in
others. So a pull is held against the others of its setup: at the end, lambda lies over the richest and torque
under the best of them, both by more than they scatter. Where every pull starves at the same speed, no
comparison of pulls can tell it from a lean main jet: pull at half the rate, or hold.
"""

from __future__ import annotations

import numpy as np

from pulsewright.pulls.finding import Finding, odds_of
from pulsewright.pulls.limits import USUAL, Limits

LAST = 4  # bins of 50 rpm at the end of the pull that must all be hit


def starvation_findings(
    rpm: np.ndarray,
    torques: np.ndarray,
    mixtures: np.ndarray,
    loads: np.ndarray,
    setup: str,
    numbers: list[int],
    limits: Limits = USUAL,
) -> list[Finding]:
    """Starving pulls of one setup.

    rpm : (n_bin,). torques, mixtures : (n_pull, n_bin). loads : (n_pull, n_bin) time since the start of the
    pull [s], NaN unknown. numbers : session numbers of the pulls.
    """
    if len(torques) < 2 or rpm.size < 15:
        return []
    low = rpm <= rpm[0] + 0.5 * (rpm[-1] - rpm[0])
    shape = np.log(torques) - np.nanmean(np.log(torques[:, low]), axis=1, keepdims=True)
    lean = mixtures - np.nanmean(mixtures[:, low], axis=1, keepdims=True)
    found = []
    for k, number in enumerate(numbers):
        others = [i for i in range(len(numbers)) if i != k]
        weaker = np.nanmax(shape[others], axis=0) - shape[k]
        leaner = lean[k] - np.nanmin(lean[others], axis=0)
        hit = (weaker > limits.starved_torque) & (leaner > limits.starved_lambda)
        late = np.flatnonzero(~low & np.isfinite(weaker) & np.isfinite(leaner))
        if late.size < LAST + 2 or not hit[late[-LAST:]].all():
            continue
        last = late[-LAST:]
        first = late[np.flatnonzero(hit[late])[0]]
        after = f", after {loads[k, first]:.0f} s at load" if np.isfinite(loads[k, first]) else ""
        size = min(leaner[last].mean() / limits.starved_lambda, weaker[last].mean() / limits.starved_torque)
        found.append(
            Finding(
                kind="fuel starvation", setup=setup, pull=number, rpm=(float(rpm[first]), float(rpm[-1])),
                strength=odds_of(float(size) + 0.5),
                evidence=f"from {rpm[first]:.0f} rpm{after}, lambda climbs {leaner[last].mean():.2f} over another "
                f"pull of {setup} and torque falls {weaker[last].mean():.1%} under it: it goes by time at load, "
                "not by engine speed",
            )
        )  # fmt: skip
    return found
