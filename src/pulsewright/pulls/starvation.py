"""Fuel starvation: the bowl runs low with time at load, so lambda climbs and torque falls late in a pull.

What the engine does at a speed it does in every pull of a setup. What starvation does depends on how long
the load has lasted, so it comes at another speed in a pull of another rate, or in some pulls and not in
others. So a pull is held against the leanest-free curve of its own setup: over the last third of its time
lambda lies 0.08 above and torque 3 % below the setup's best, both growing to the end.
"""

from __future__ import annotations

import numpy as np

from pulsewright.pulls.finding import Finding, odds_of

LEANER = 0.08  # [-] over the richest pull of the setup; sensors repeat to 0.02
WEAKER = 0.03  # [-] of torque, gain taken out; four times the scatter of a pull


def starvation_findings(
    rpm: np.ndarray, torques: np.ndarray, mixtures: np.ndarray, setup: str, numbers: list[int]
) -> list[Finding]:
    """Starving pulls of one setup.

    rpm : (n_bin,). torques, mixtures : (n_pull, n_bin). numbers : session numbers of the pulls.
    """
    if len(torques) < 2 or rpm.size < 15:
        return []
    low = rpm <= rpm[0] + 0.5 * (rpm[-1] - rpm[0])
    level = np.nanmean(np.log(torques[:, low]), axis=1, keepdims=True)
    shape = np.log(torques) - level
    lean = mixtures - np.nanmean(mixtures[:, low], axis=1, keepdims=True)
    found = []
    for k, number in enumerate(numbers):
        others = [i for i in range(len(numbers)) if i != k]
        weaker = np.nanmax(shape[others], axis=0) - shape[k] if others else np.zeros(rpm.size)
        leaner = lean[k] - np.nanmin(lean[others], axis=0)
        hit = (weaker > WEAKER) & (leaner > LEANER)
        late = np.flatnonzero(~low & np.isfinite(weaker) & np.isfinite(leaner))
        if late.size < 6 or not hit[late[-4:]].all():
            continue
        start = rpm[late[np.flatnonzero(hit[late])[0]]]
        size = float(min(leaner[late[-4:]].mean() / LEANER, weaker[late[-4:]].mean() / WEAKER))
        found.append(
            Finding(
                kind="fuel starvation", setup=setup, pull=number, rpm=(float(start), float(rpm[-1])),
                strength=odds_of(size + 0.5),
                evidence=f"from {start:.0f} rpm lambda climbs {leaner[late[-4:]].mean():.2f} and torque "
                "falls "
                f"{weaker[late[-4:]].mean():.1%} against another pull of {setup}: time at load, not "
                "engine speed",
            )
        )  # fmt: skip
    return found
