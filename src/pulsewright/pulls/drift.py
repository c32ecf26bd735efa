"""Torque that drifts in the order of the pulls, whichever setup, beyond what the head temperature explains.

The level model of whole pulls (pull_levels.py) is fitted once more with the place in the day left free; heat
keeps its prior, so that a head that warms along with the pulls takes the blame first (heat_drift.py), and air
that is known is corrected before. What is left is named when it is both large and unlikely by chance.
"""

from __future__ import annotations

import math

import numpy as np

from pulsewright.pulls.finding import Finding, odds_of_z
from pulsewright.pulls.limits import USUAL, Limits
from pulsewright.pulls.pull_levels import fit_levels

FREE = 1.0  # [1/pull] standard deviation of a drift about which nothing is believed
FEWEST = 4  # pulls: three hold a setup and a slope and leave one to judge by


def drift_finding(
    level: np.ndarray, setup: list[str], head: np.ndarray, *, air_known: bool, limits: Limits = USUAL
) -> Finding | None:
    """Drift over the session, or None.

    level : (n_pull,) log mean torque in the order of the pulls, odd pulls NaN. setup : name a pull.
    head : (n_pull,) head temperature [K], NaN unknown. air_known : torque is corrected for the air.
    """
    from scipy.stats import t

    sound = np.isfinite(level)
    if sound.sum() < FEWEST:
        return None
    names = [name for name, kept in zip(setup, sound, strict=True) if kept]
    model = fit_levels(level[sound], names, head[sound], order_prior=FREE)
    change = math.expm1(model.order * (len(names) - 1))
    z = abs(model.order) / model.order_sd
    chance = 2.0 * float(t.sf(z, model.freedom))
    if abs(change) < limits.drift or chance > limits.drift_chance:
        return None
    return Finding(
        kind="drift", setup=None, pull=None, rpm=None, strength=odds_of_z(min(z, _gaussian(chance))),
        evidence=f"torque {'falls' if change < 0.0 else 'rises'} {abs(100.0 * math.expm1(model.order)):.1f} % a pull "
        f"in the order of the pulls, whichever setup: {100.0 * change:+.1f} % over the session "
        f"({z:.1f} standard deviations); {_why_not(head, air_known, change)}",
    )  # fmt: skip


def _gaussian(chance: float) -> float:
    """Standard deviations of a Gaussian that are as unlikely. [-]"""
    from scipy.stats import norm

    return float(norm.isf(max(chance, 1e-300) / 2.0))


def _why_not(head: np.ndarray, air_known: bool, change: float) -> str:
    """What has been ruled out, and what has not been noted."""
    said = []
    if np.isfinite(head).any():
        warmest, coldest = np.nanmax(head) - 273.15, np.nanmin(head) - 273.15
        said.append(f"the head, at {coldest:.0f} to {warmest:.0f} degC, does not explain it")
    else:
        usual = "heat soak" if change < 0.0 else "warming up"
        said.append(f"no head temperature was noted: {usual} is the usual reason")
    said.append("the air is corrected" if air_known else "the air was not noted: it may be the weather")
    return ", ".join(said)
