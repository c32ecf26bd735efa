"""Misfire: sudden losses of torque in single samples, lean spikes of lambda with them.

A sample counts as a drop when it lies 6 robust standard deviations, and 4 % at least, under the better ones of
its neighbours: sound noise does that once in a billion samples, a missed firing of one cylinder costs far more
than 4 %. Neighbours are judged by their upper quarter and the scatter by the smoother half of the pull, so that
an engine that misses in every second sample does not hide it. Three separate drops make a finding, where there
are not as many jumps upwards: those are a rough log, not the engine. Lambda spikes of 0.08 add to it (unburnt
oxygen reads lean).
"""

from __future__ import annotations

import numpy as np

from pulsewright.pulls.finding import Finding, odds_of
from pulsewright.pulls.limits import USUAL, Limits
from pulsewright.pulls.pickup import running_median, running_quantile
from pulsewright.pulls.pull import Pull

DROP_SCATTERS = 6.0
ONE_SIDED = 2.0  # drops for every jump upwards, at least
SPIKE = 0.08  # [-] of lambda; misfires read 0.1 to 0.4 lean (common practice)
WINDOW = 15  # samples
UPPER = 0.75  # quantile of the neighbours that still fire where up to seven in ten do not
QUARTER_NEAR = 0.39  # standard deviations around that quantile within which a quarter of a Gaussian lies


def misfire_finding(pull: Pull, number: int, limits: Limits = USUAL) -> Finding | None:
    """Misfire in one pull, or None."""
    rest = relative_rest(pull)
    if not np.isfinite(rest).any():
        return None
    reach = max(limits.misfire_drop, DROP_SCATTERS * sound_scatter(rest))
    drops, jumps = _runs(rest < -reach), _runs(rest > reach)
    if drops < limits.misfire_drops or drops < ONE_SIDED * jumps:
        return None
    speeds = pull.engine_speed[pull.usable][rest < -reach]
    spikes = _lean_spikes(pull)
    return Finding(
        kind="misfire", setup=pull.setup, pull=number, rpm=(float(speeds.min()), float(speeds.max())),
        strength=odds_of(drops / limits.misfire_drops + (1.0 if spikes else 0.0) + 0.5),
        evidence=f"torque drops out {drops} times, by up to {-np.nanmin(rest):.0%}"
        + (f", and lambda spikes lean {spikes} times" if spikes else ""),
    )  # fmt: skip


def relative_rest(pull: Pull) -> np.ndarray:
    """Torque over the upper quarter of its neighbours, less one, usable samples. (n_usable,)

    NaN at the ends, where there are neighbours on one side only and a slope would look like a drop.
    """
    torque = pull.torque[pull.usable]
    rest = torque / running_median(torque, WINDOW) - 1.0  # first, since the quarter alone would follow a slope
    rest[: WINDOW // 2] = rest[-(WINDOW // 2) :] = np.nan
    return rest - running_quantile(rest, WINDOW, UPPER)


def sound_scatter(rest: np.ndarray) -> float:
    """Robust standard deviation of samples in the smoother half of a pull. [-]"""
    local = running_quantile(np.abs(rest), 2 * WINDOW + 1, 0.25) / QUARTER_NEAR
    return float(np.nanmedian(local[local <= np.nanmedian(local)]))


def _lean_spikes(pull: Pull) -> int:
    mixture = pull.mixture
    if mixture is None:
        return 0
    return _runs(mixture - running_median(mixture, 2 * WINDOW + 1) > SPIKE)


def _runs(hit: np.ndarray) -> int:
    """How many separate stretches are hit."""
    return int((hit & ~np.concatenate([[False], hit[:-1]])).sum())
