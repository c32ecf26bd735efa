"""What pulled changes did to the torque at the hole's bottom, at its old speed: there shoulders do not mislead."""

from __future__ import annotations

from pulsewright.bench.session import Session
from pulsewright.cause.causes import (
    ENGINE,
    EXHAUST_WAVE,
    IGNITION,
    INTAKE_WAVE,
    MEASUREMENT,
    MIXTURE_LEAN,
    MIXTURE_RICH,
    RESTRICTION,
    STARVATION,
)
from pulsewright.cause.evidence import Evidence, doubted_sensor, exhaust_only, intake_only, jets_only, mixture_at
from pulsewright.pulls.comparison import Comparison
from pulsewright.pulls.session_pulls import SessionPulls

MOVED = 100.0  # [rpm] a bottom that moves further has moved
REGAINED = 0.25  # of the lost torque that comes back at the old bottom: a change that helped there
FILLED = 0.5
SHRUNK = 0.6  # depth left over, below which a hole has shrunk
HELD = 0.75  # depth left over, above which a hole has stayed
MIXTURE_MOVED = 0.03  # [-] of lambda: a jet change that flowed differently
LITTLE = 0.02  # of torque: two jet steps that change less at the bottom are not the hole's cause

FUELS = (MIXTURE_RICH, MIXTURE_LEAN, STARVATION)
OTHERS = (IGNITION, ENGINE, MEASUREMENT)


def change_evidence(session: Session, pulls: SessionPulls) -> list[Evidence]:
    """What every setup based on the baseline says of the baseline's hole."""
    if pulls.hole is None or not pulls.hole.repeats:
        return []
    found = []
    for comparison in pulls.comparisons:
        setup = session.setup(comparison.second)
        if setup.based_on != pulls.baseline or comparison.bottom_percent is None:
            continue
        if exhaust_only(setup):
            found += _pipe(pulls, comparison, EXHAUST_WAVE, INTAKE_WAVE, "exhaust")
        elif intake_only(setup):
            found += _pipe(pulls, comparison, INTAKE_WAVE, EXHAUST_WAVE, "intake")
        elif jets_only(setup):
            found += _jets(pulls, comparison)
    return found


def _pipe(pulls: SessionPulls, comparison: Comparison, own: str, other: str, part: str) -> list[Evidence]:
    """A change of exhaust or intake alone."""
    before, after = pulls.hole, pulls.setups[comparison.second].hole
    assert before is not None
    assert comparison.bottom_percent is not None
    gain = comparison.bottom_percent / 100.0
    sure = comparison.bottom_low is not None and comparison.bottom_low > 0.0
    left = after.depth / before.depth if after else 0.0
    moved = abs(after.rpm_bottom - before.rpm_bottom) if after else 0.0
    said = f"torque at its old bottom {100.0 * gain:+.0f} %"
    helped = sure and gain > REGAINED * before.depth
    if (helped and left < 1.3) or (moved > MOVED and left >= SHRUNK and gain > 0.0):
        how = f"moved by {moved:.0f} rpm" if moved > MOVED and left >= SHRUNK else _shrunk(left)
        says = dict.fromkeys((*FUELS, *OTHERS), -1.4)
        says |= {own: 0.4, other: -0.6, RESTRICTION: -0.6, IGNITION: -1.2}
        text = f"the hole {how} when only the {part} was changed ({comparison.second}); {said}"
        return [Evidence(what=text, says=says)]
    if left > HELD and moved < MOVED and not helped:
        says = {own: -1.0, other: 0.1, MIXTURE_RICH: 0.0, IGNITION: 0.1, ENGINE: 0.0}
        text = f"the hole stayed where it was when only the {part} was changed ({comparison.second}); {said}"
        return [Evidence(what=text, says=says)]
    if left < SHRUNK and not helped:
        says = {own: -0.2, MEASUREMENT: 0.0}
        text = f"the hole looks shallower with another {part} ({comparison.second}): its shoulders fell; {said}"
        return [Evidence(what=text, says=says)]
    return []


def _shrunk(left: float) -> str:
    return f"shrank to {100.0 * left:.0f} % of its depth" if left > 0.0 else "vanished"


def _jets(pulls: SessionPulls, comparison: Comparison) -> list[Evidence]:
    """A change of jets alone, where lambda shows that they flowed differently."""
    before, name = pulls.hole, comparison.second
    assert before is not None
    assert comparison.bottom_percent is not None
    base, other = pulls.setups[pulls.baseline], pulls.setups[name]
    here, there = mixture_at(base, before.rpm_bottom), mixture_at(other, before.rpm_bottom)
    doubted = doubted_sensor(pulls, pulls.baseline) or doubted_sensor(pulls, name)
    if here is None or there is None or doubted or abs(there - here) < MIXTURE_MOVED:
        return []
    gain = comparison.bottom_percent / 100.0
    regained = gain * (1.0 - before.depth) / before.depth  # of the lost torque
    said = f"torque there {100.0 * gain:+.0f} %, lambda {here:.2f} to {there:.2f}"
    right, wrong = (MIXTURE_RICH, MIXTURE_LEAN) if there > here else (MIXTURE_LEAN, MIXTURE_RICH)
    if abs(gain) < LITTLE:
        says = dict.fromkeys(FUELS, -1.2) | {EXHAUST_WAVE: 0.1, INTAKE_WAVE: 0.1, IGNITION: 0.1, STARVATION: -0.5}
        return [
            Evidence(
                what=f"the bottom of the hole hardly moved when only jets were changed ({name}; {said})", says=says
            )
        ]
    if regained >= FILLED:
        says = dict.fromkeys((EXHAUST_WAVE, INTAKE_WAVE), -0.8) | {right: 0.6, wrong: -1.5, STARVATION: -0.4}
        says |= dict.fromkeys((IGNITION, ENGINE, MEASUREMENT, RESTRICTION), -1.0)
        return [Evidence(what=f"most of the hole filled when only jets were changed ({name}; {said})", says=says)]
    if gain < 0.0:
        says = {right: -1.3, wrong: 0.2, EXHAUST_WAVE: 0.0}
        return [Evidence(what=f"the hole got deeper when only jets were changed ({name}; {said})", says=says)]
    says = {EXHAUST_WAVE: 0.1, INTAKE_WAVE: 0.0, right: -0.6, wrong: -1.5, STARVATION: -0.8, IGNITION: -0.3}
    text = f"part of the hole, and not half, filled when only jets were changed ({name}; {said})"
    return [Evidence(what=text, says=says)]
