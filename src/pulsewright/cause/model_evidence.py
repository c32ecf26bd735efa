"""What the switches in the model say, as one more observation beside those that need no model."""

from __future__ import annotations

import numpy as np

from pulsewright.cause.causes import (
    ENGINE,
    EXHAUST_WAVE,
    IGNITION,
    INTAKE_WAVE,
    MEASUREMENT,
    MIXTURE,
    MIXTURE_LEAN,
    MIXTURE_RICH,
    RESTRICTION,
    STARVATION,
)
from pulsewright.cause.evidence import Evidence
from pulsewright.cause.switches import Split

FITTED, UNFITTED = 1.0, 0.5  # how far the model is believed
ENOUGH = 0.15  # of the measured loss that a cause has to bring back before it counts for anything
MOST_OF_IT = 0.6
NO_SWITCH = (IGNITION, ENGINE, STARVATION, MEASUREMENT)


def model_evidence(split: Split | None, depth: float | None, rich: bool, unexplained: float | None) -> list[Evidence]:
    """Shares at the hole, as parts of the measured loss.

    depth : of the measured hole. rich : the mixture at the bottom is richer than the best one.
    unexplained : part of the measured loss that the model does not show, None where it is not known.
    """
    if split is None or not split.shares or not depth:
        return []
    believed = FITTED if split.fitted else UNFITTED
    brought_back = min(1.0, split.gain_fraction / depth)
    parts = {s.cause: s.share * brought_back for s in split.shares}
    says = {cause: believed * _size(parts.get(cause, 0.0)) for cause in (EXHAUST_WAVE, INTAKE_WAVE, RESTRICTION)}
    mixture = believed * _size(parts.get(MIXTURE, 0.0))
    says |= {MIXTURE_RICH: mixture if rich else -0.7 * believed, MIXTURE_LEAN: -0.7 * believed if rich else mixture}
    missing = 1.0 - brought_back if unexplained is None else max(unexplained, 1.0 - brought_back)
    says |= dict.fromkeys(NO_SWITCH, believed * float(np.interp(missing, [0.2, 0.7], [-0.6, 0.4])))
    first = split.shares[0]
    text = (
        f"in the {'fitted' if split.fitted else 'unfitted'} model {100.0 * split.gain_fraction:.0f} % of torque comes "
        f"back near {split.rpm:.0f} rpm when causes are switched off, {100.0 * first.share:.0f} % of it with the "
        f"{first.cause}"
    )
    return [Evidence(what=text, says=says)]


def _size(part: float) -> float:
    """Weight of a cause that brings back a part of the measured loss."""
    return float(np.interp(part, [0.0, ENOUGH, MOST_OF_IT], [-0.7, -0.3, 0.7]))
