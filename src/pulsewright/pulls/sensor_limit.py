"""Lambda that sat at the end of the sensor's range: unknown there, not a number."""

from __future__ import annotations

import numpy as np

from pulsewright.pulls.finding import Finding
from pulsewright.pulls.limits import USUAL, Limits
from pulsewright.pulls.pull import Pull


def sensor_limit(pull: Pull, number: int, limits: Limits = USUAL) -> list[Finding]:
    """One finding for every sensor that was stuck in too much of a pull."""
    found = []
    for sensor, values in pull.lambdas.items():
        stuck = pull.usable & ~np.isfinite(values)
        if stuck.sum() <= limits.stuck_share * pull.usable.sum():
            continue
        speeds = pull.engine_speed[stuck]
        which = f" of sensor {sensor}" if len(pull.lambdas) > 1 else ""
        found.append(
            Finding(
                kind="sensor limit", setup=pull.setup, pull=number,
                rpm=(float(speeds.min()), float(speeds.max())), strength=2.0,
                evidence=f"lambda{which} sat at the end of its range in {stuck.sum() / pull.usable.sum():.0%} of the "
                "pull: unknown there",
            )
        )  # fmt: skip
    return found
