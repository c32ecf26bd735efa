"""Words of the rider, with the suspects that the trade thinks of first (common practice, no published source)."""

from __future__ import annotations

from pulsewright.cause.causes import (
    ENGINE,
    EXHAUST_WAVE,
    IGNITION,
    INTAKE_WAVE,
    MEASUREMENT,
    MIXTURE_LEAN,
    MIXTURE_RICH,
    NO_HOLE,
    RESTRICTION,
    STARVATION,
)
from pulsewright.cause.evidence import Evidence

SLIGHT = 0.2  # riders' words mislead as often as not
WORDS = (
    (("no complaint", "runs well", "only a check", "just a check"), (NO_HOLE,)),
    (("hole", "flat spot", "kicks", "dead at", "flat at", "flat in the middle"), (EXHAUST_WAVE, INTAKE_WAVE)),
    (("surge", "hesitat", "pings", "pinking", "spits back", "white plug"), (MIXTURE_LEAN,)),
    (("four-strok", "burbl", "soot", "black smoke", "smells of fuel", "lazy", "wet plug"), (MIXTURE_RICH,)),
    (("runs out", "dies after", "cuts out", "fades"), (STARVATION, RESTRICTION)),
    (("misfire", "misses", "cough", "splutter", "stutter", "breaks up", "ragged"), (IGNITION,)),
    (("slow everywhere", "weak everywhere", "tired", "no power anywhere", "down on power"), (ENGINE,)),
)


def complaint_evidence(complaint: str) -> list[Evidence]:
    """What the complaint lets a tuner think of, at most one line."""
    text = complaint.lower()
    for phrases, causes in WORDS:
        heard = next((phrase for phrase in phrases if phrase in text), None)
        if heard:
            says = {NO_HOLE: -SLIGHT, MEASUREMENT: 0.0} | dict.fromkeys(causes, SLIGHT)
            return [Evidence(what=f'the rider says "{complaint.strip()}"', says=says)]
    return []
