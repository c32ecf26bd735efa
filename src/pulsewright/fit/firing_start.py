"""A rich limit with which the model fires wherever the engine did.

Misfires do not follow slopes: from a start that has them a search ends in one place or another. Speeds at which the
engine missed are not among the measured ones.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pulsewright.fit.unknowns import Unknown
from pulsewright.physics.power_versus_mixture import RICH_WIDTH

SENSOR_LEANER = 0.03  # of lambda: what a sensor may read above the mixture of the richest cylinder, assumed


def firing_limit(mixtures: Sequence[np.ndarray], limit: Unknown) -> float:
    """The rich limit in standard numbers, no farther from its centre than the richest lambda asks.

    mixtures : measured lambda of every setup, NaN where it is not known, and known at one place at least.
    """
    richest = min(float(np.nanmin(each)) for each in mixtures if np.isfinite(each).any())
    return min(limit.standard(richest - RICH_WIDTH - SENSOR_LEANER), limit.standard(limit.centre))
