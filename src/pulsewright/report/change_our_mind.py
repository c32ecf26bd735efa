"""What would prove the finding wrong, said before it is tried."""

from __future__ import annotations

from pulsewright.cause.causes import (
    CANNOT_TELL,
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
from pulsewright.remedies.explain import Answer

RUNNER_UP = 0.05  # probability from which the next suspect is named

PROOF_AGAINST = {
    EXHAUST_WAVE: "a change at the pipe end, or of the pipe's length, that leaves torque at the bottom and the place "
    "of the hole as they were",
    INTAKE_WAVE: "a longer or shorter intake that leaves the hole where it was, or another pipe end that moves it",
    MIXTURE_RICH: "leaner jets, shown by lambda, that bring no torque back",
    MIXTURE_LEAN: "richer jets, shown by lambda, that bring no torque back",
    STARVATION: "a pull at half the rate in which lambda climbs at the same engine speed, not after the same time",
    RESTRICTION: "a pull with filter off or core out in which the top end stays as it was",
    IGNITION: "new plugs, leads and coil that leave the torque as ragged as it was",
    ENGINE: "a compression and leak-down test in which every cylinder is as it should be",
    MEASUREMENT: "the same curve after the measurement has been put right",
    NO_HOLE: "three more pulls that all show the same dip at one engine speed",
    CANNOT_TELL: "any of the tests below: its outcome points one way or the other",
}


def change_our_mind(answer: Answer) -> tuple[str, ...]:
    """Outcomes that speak against the verdict, and the next suspect where there is one."""
    e = answer.explanation
    lines = [PROOF_AGAINST[e.verdict]]
    others = sorted((c for c in e.chances if c != e.verdict), key=lambda c: -e.chances[c])
    if others and e.chances[others[0]] >= RUNNER_UP:
        lines.append(f"the next suspect is {others[0]} ({100.0 * e.chances[others[0]]:.0f} %)")
    return tuple(lines)
