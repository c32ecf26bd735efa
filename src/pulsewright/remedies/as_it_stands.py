"""What the gates say of the machine as it stands, told before any advice.

The gates refuse what could still be lean after it. On a machine past the red gate that may be every step of a kit,
so the step in the safe direction is named by itself, whatever the cause of the complaint.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pulsewright.bench.session import Session
from pulsewright.cause.safety import RED, SENSOR_MARGIN, safety_notes
from pulsewright.pulls.session_pulls import SessionPulls
from pulsewright.remedies.reference import Reference

TOO_LEAN, LEAN, UNKNOWN, INSIDE = "too lean", "lean", "unknown", "inside"
LEVELS = {"red": TOO_LEAN, "amber": LEAN, "unknown": UNKNOWN}  # of a safety note


@dataclass(frozen=True, slots=True)
class AsItStands:
    """One of the four words above, and what it means in a sentence."""

    level: str
    text: str

    @property
    def comes_first(self) -> bool:
        """Whether it must be told before anything else."""
        return self.level in (TOO_LEAN, LEAN)


def as_it_stands(session: Session, pulls: SessionPulls, reference: Reference) -> AsItStands:
    """The setup of a reference against the gates, by the same notes as an explanation's dangers."""
    note = next((n for n in safety_notes(session, pulls) if n.setup == reference.name), None)
    level = LEVELS.get(note.level, INSIDE) if note else INSIDE
    curves, gate = pulls.setups[reference.name], reference.lean_gate
    read = np.where(reference.mixture_known & reference.in_reach, reference.mixture, -np.inf)
    top = int(np.argmax(read))
    if level != TOO_LEAN and read[top] > RED:  # short in a pull, and a rider may stay there
        return AsItStands(
            TOO_LEAN,
            f"It runs too lean as it stands: lambda {read[top]:.2f} at {reference.rpm[top]:.0f} rpm, past the red gate "
            f"of {RED:.2f}. No full-throttle pull before it is richer.",
        )
    if note is None or level == INSIDE:
        if reference.mixture_unknown:
            return AsItStands(UNKNOWN, "Whether its mixture is safe is not known at every speed: some have no lambda.")
        worst = int(np.nanargmax(curves.mixture))
        return AsItStands(
            INSIDE,
            f"Its leanest lambda is {curves.mixture[worst]:.2f} at {curves.rpm[worst]:.0f} rpm, inside the lean gate "
            f"of {gate:.2f}.",
        )
    if level == UNKNOWN:
        why = "outside air may reach the sensor" if reference.doubted else "the pulls have no lambda"
        return AsItStands(UNKNOWN, f"Whether its mixture is safe is not known: {why}.")
    value = float(curves.mixture[int(np.argmin(np.abs(curves.rpm - note.rpm)))])
    here = f"lambda {value:.2f} at {note.rpm:.0f} rpm"
    if level == TOO_LEAN:
        return AsItStands(
            TOO_LEAN,
            f"It runs too lean as it stands: {here}, with {SENSOR_MARGIN:.2f} for the sensor past the red gate of "
            f"{RED:.2f}. No full-throttle pull before it is richer.",
        )
    return AsItStands(
        LEAN,
        f"It stands {'past' if value > gate else 'at'} the lean gate of {gate:.2f}: {here}, and the sensor may be "
        f"{SENSOR_MARGIN:.2f} off. Go no leaner, and mind it in long work at full throttle.",
    )
