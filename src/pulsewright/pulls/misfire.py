"""Misfire: sudden losses of torque in single samples, lean spikes of lambda with them.

A sample counts as a drop when it lies 6 robust standard deviations and 4 % under the median of its
neighbours: sound noise does that once in a billion samples, a missed firing of one cylinder costs far more
than 4 %. Three separate drops make a finding; lambda spikes of 0.08 within half a second add to it (unburnt
oxygen reads lean).
"""

from __future__ import annotations

import numpy as np

from pulsewright.pulls.finding import Finding, odds_of
from pulsewright.pulls.pickup import running_median
from pulsewright.pulls.pull import Pull

DROP_SCATTERS = 6.0
DROP_LEAST = 0.04  # [-]
FEWEST_DROPS = 3
SPIKE = 0.08  # [-] of lambda; misfires read 0.1 to 0.4 lean (common practice)
WINDOW = 15


def misfire_finding(pull: Pull, number: int) -> Finding | None:
    """Misfire in one pull, or None."""
    rest = relative_rest(pull)
    scatter = 1.4826 * np.nanmedian(np.abs(rest))
    drops = rest < -np.maximum(DROP_LEAST, DROP_SCATTERS * scatter)
    starts = np.flatnonzero(drops & ~np.concatenate([[False], drops[:-1]]))
    if starts.size < FEWEST_DROPS:
        return None
    speeds = pull.engine_speed[pull.usable][drops]
    spikes = _lean_spikes(pull)
    return Finding(
        kind="misfire", setup=pull.setup, pull=number, rpm=(float(speeds.min()), float(speeds.max())),
        strength=odds_of(starts.size / FEWEST_DROPS + (1.0 if spikes else 0.0) + 0.5),
        evidence=f"{starts.size} sudden drops of torque, the worst {-np.nanmin(rest):.0%}"
        + (f", with {spikes} lean spikes of lambda" if spikes else ""),
    )  # fmt: skip


def relative_rest(pull: Pull) -> np.ndarray:
    """Torque over the median of its neighbours, less one, usable samples. (n_usable,)"""
    torque = pull.torque[pull.usable]
    return torque / running_median(torque, WINDOW) - 1.0


def _lean_spikes(pull: Pull) -> int:
    mixture = pull.mixture
    if mixture is None:
        return 0
    above = mixture - running_median(mixture, 2 * WINDOW + 1) > SPIKE
    return int((above & ~np.concatenate([[False], above[:-1]])).sum())
