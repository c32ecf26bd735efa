"""A machine that runs too lean as it stands: richer comes before everything else, whatever the cause of the complaint.

The gates refuse what could still be lean after it. On a machine past the red gate that may be every step of a kit,
so the step in the safe direction is named by itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pulsewright.cause.safety import RED
from pulsewright.remedies.reference import Reference


@dataclass(frozen=True, slots=True)
class LeanNow:
    """The leanest reading past the red gate."""

    mixture: float
    rpm: float

    @property
    def text(self) -> str:
        """What it means for the next pull, in a sentence."""
        return (
            f"It runs too lean as it stands: lambda {self.mixture:.2f} at {self.rpm:.0f} rpm, past the red gate of "
            f"{RED:.2f}. No full-throttle pull before it is richer."
        )


def lean_now(reference: Reference) -> LeanNow | None:
    """Where a trusted reading of the machine as it is passes the red gate; None where none does."""
    read = np.where(reference.mixture_known & reference.in_reach, reference.mixture, -np.inf)
    worst = int(np.argmax(read))
    return LeanNow(float(read[worst]), float(reference.rpm[worst])) if read[worst] > RED else None
