"""What a map over speed and throttle says of the mixture where people ride: part throttle, steady.

The bands are customary (common practice, no published source): air-cooled engines are kept a little rich for their
heat, water-cooled ones near the stoichiometric mixture.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from pulsewright.simulate.throttle_map import ThrottleMap

CRUISE_BAND = {"air": (0.92, 0.98), "water": (0.98, 1.05)}  # lambda by cooling
OPENINGS = (0.10, 0.40)  # of the throttle's way: what a road asks for, common practice


@dataclass(frozen=True, slots=True, kw_only=True)
class Cruise:
    """Lambda drawn at the openings of cruising."""

    band: tuple[float, float]  # customary
    throttle: tuple[float, ...]  # openings looked at
    richest: float
    leanest: float
    inside: int  # points in the band
    richer: int
    leaner: int

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "band": list(self.band), "throttle": list(self.throttle), "richest": self.richest, "leanest": self.leanest,
            "inside": self.inside, "richer": self.richer, "leaner": self.leaner,
        }  # fmt: skip


def cruise_of(found: ThrottleMap, cooling: str) -> Cruise | None:
    """The cruise mixture of a map; None where no opening of it is one to cruise at, or no fuel flows there."""
    low, high = OPENINGS
    rows = (found.throttle >= low - 1e-9) & (found.throttle <= high + 1e-9)
    mixture = found.curves["lambda_delivered"][rows]
    known = mixture[np.isfinite(mixture)]
    if known.size == 0:
        return None
    rich, lean = CRUISE_BAND[cooling]
    return Cruise(
        band=(rich, lean),
        throttle=tuple(float(x) for x in found.throttle[rows]),
        richest=float(known.min()),
        leanest=float(known.max()),
        inside=int(np.sum((known >= rich) & (known <= lean))),
        richer=int(np.sum(known < rich)),
        leaner=int(np.sum(known > lean)),
    )
