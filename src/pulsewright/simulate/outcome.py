"""How the cycles of a speed ended, in the words that are told."""

from __future__ import annotations

import numpy as np

from pulsewright.simulate.rest import DEAD, FIRES

CONVERGED = "converged"
CYCLE_LIMIT = "cycle limit reached: torque or mixture still moves; raise the cycle limit"
SWINGS = "does not settle: fires and misfires by turns near the limit of the mixture; the mean is given"
BY_TURNS = "does not settle: strong and weak cycles by turns; the mean is given"
NO_TWO_ALIKE = "does not settle: no two cycles are alike; the mean is given"
MISFIRE = "misfire: the mixture is outside the limits of ignition"
FAILED = "failed: the gas left the range of the model; check the sheet for extreme sizes"


def outcome_at_rest(complete: np.ndarray) -> str:
    """How a speed ended that repeats itself, from the share of cycles that fire. (cylinders,)"""
    return MISFIRE if np.all(complete < DEAD) else CONVERGED


def outcome_at_no_rest(complete: np.ndarray, told: str) -> str:
    """How a speed ended that has not come to rest: as `told` where every cylinder fires."""
    return SWINGS if np.any(complete < FIRES) else told
