"""What the findings about the pulls say: artefacts of the measurement first, then spark and fuel supply."""

from __future__ import annotations

import numpy as np

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
from pulsewright.cause.evidence import Evidence, mixture_at
from pulsewright.pulls.finding import Finding
from pulsewright.pulls.session_pulls import SessionPulls

COVERS = 0.5  # of the hole's width, and of the baseline's pulls, that an artefact must reach to explain the hole
RICH_MISSES, LEAN_MISSES = 0.68, 1.12  # lambda beyond which a misfire may be the mixture's
MOST = 1.6  # one finding, however sure
CAUSES = (
    EXHAUST_WAVE, INTAKE_WAVE, MIXTURE_RICH, MIXTURE_LEAN, STARVATION, RESTRICTION, IGNITION, ENGINE, NO_HOLE,
)  # fmt: skip


def artefact_of_the_hole(pulls: SessionPulls) -> Evidence | None:
    """Slip or a wrong count that lies where the hole is, in most pulls that show it; None where there is none."""
    hole = pulls.hole
    if hole is None:
        return None
    members = set(pulls.setups[pulls.baseline].pulls)
    found = [
        f for f in pulls.findings if f.kind in ("slip", "pick-up") and f.pull in members and _covers(f, pulls)
    ]  # fmt: skip
    if len({f.pull for f in found}) < COVERS * len(members):
        return None
    size = min(MOST, max(f.strength for f in found))
    text = f"{found[0].kind} lies where the hole is, in {len(found)} of {len(members)} pulls: {found[0].evidence}"
    return Evidence(what=text, says={MEASUREMENT: size, **dict.fromkeys(CAUSES, -0.5)})


def _covers(finding: Finding, pulls: SessionPulls) -> bool:
    hole = pulls.hole
    assert hole is not None
    if finding.rpm is None:
        return False
    low, high = max(finding.rpm[0], hole.rpm_from), min(finding.rpm[1], hole.rpm_to)
    return high - low >= COVERS * (hole.rpm_to - hole.rpm_from) or (low <= hole.rpm_bottom <= high)


def finding_evidence(pulls: SessionPulls) -> list[Evidence]:
    """What the findings of a session say, each kind once."""
    found = [_of_measurement(pulls), _supply(pulls), _spark(pulls), _nothing(pulls)]
    return [e for e in found if e is not None]


def _nothing(pulls: SessionPulls) -> Evidence | None:
    """What was looked for in the pulls and is not there."""
    kinds = {f.kind for f in pulls.findings}
    says, words = {NO_HOLE: 0.1}, []
    if not kinds & {"slip", "pick-up", "dilution", "heat soak", "drift", "weather change", "odd pull"}:
        says[MEASUREMENT] = -0.7
        words.append("no artefact of the measurement")
    if "misfire" not in kinds:
        says[IGNITION] = -0.8
        words.append("no ragged torque")
    if "fuel starvation" not in kinds:
        says[STARVATION] = -0.7
        words.append("nothing that goes by the time at load")
    return Evidence(what=f"the pulls show {', '.join(words)}", says=says) if words else None


def _strongest(pulls: SessionPulls, *kinds: str) -> Finding | None:
    return max((f for f in pulls.findings if f.kind in kinds), key=lambda f: f.strength, default=None)


def _of_measurement(pulls: SessionPulls) -> Evidence | None:
    """The strongest artefact that could have been taken for the engine; a repeated hole is none of these."""
    kinds = ["slip", "pick-up", "dilution"]
    if not any(c.proven for c in pulls.comparisons):
        kinds += ["heat soak", "drift", "weather change"]
    finding = _strongest(pulls, *kinds)
    if finding is None:
        return None
    where = f" ({finding.setup})" if finding.setup else ""
    text = f"{finding.kind}{where}: {finding.evidence}"
    alone = pulls.hole is None or not pulls.hole.repeats
    size = float(np.clip(finding.strength, 0.5, MOST)) if alone else 0.15
    says = {MEASUREMENT: size, NO_HOLE: -0.3 if alone else 0.0}
    if finding.kind == "dilution":
        says |= {MIXTURE_LEAN: -0.8 if alone else -0.2}
    return Evidence(what=text, says=says)


def _supply(pulls: SessionPulls) -> Evidence | None:
    """Lambda that climbs and torque that falls with the time at load, not with engine speed."""
    finding = _strongest(pulls, "fuel starvation")
    if finding is None:
        return None
    count = len({f.pull for f in pulls.findings if f.kind == "fuel starvation"})
    size = min(MOST, finding.strength) if count > 1 else min(1.0, finding.strength)
    says = dict.fromkeys((EXHAUST_WAVE, INTAKE_WAVE, MIXTURE_RICH, ENGINE, NO_HOLE, RESTRICTION), -0.6)
    says |= {STARVATION: size, MIXTURE_LEAN: -0.3, MEASUREMENT: -0.2, IGNITION: -0.3}
    return Evidence(what=f"fuel starvation in {count} pulls: {finding.evidence}", says=says)


def _spark(pulls: SessionPulls) -> Evidence | None:
    """Ragged torque under load. Jets and pipes do not move it; a mixture beyond its limits may be the reason."""
    finding = _strongest(pulls, "misfire")
    if finding is None:
        return None
    all_of_them = [f for f in pulls.findings if f.kind == "misfire"]
    setups = {f.setup for f in all_of_them}
    here = _mixture_there(pulls, finding)
    size = float(np.clip(finding.strength, 0.3, MOST))
    says = dict.fromkeys((EXHAUST_WAVE, INTAKE_WAVE, RESTRICTION, ENGINE, MEASUREMENT, STARVATION, NO_HOLE), -0.5)
    says |= {IGNITION: size, MIXTURE_LEAN: -0.3, MIXTURE_RICH: -0.3}
    text = f"ragged torque in {len(all_of_them)} pulls: {finding.evidence}"
    if len(setups) > 1:
        says |= {MIXTURE_LEAN: -0.8, MIXTURE_RICH: -0.8}
        text += f"; it is there in setups {', '.join(sorted(s for s in setups if s))}, whatever was changed"
    elif here is not None and here < RICH_MISSES:
        says |= {MIXTURE_RICH: 0.5 * size, IGNITION: 0.5 * size}
        text += f"; at lambda {here:.2f} the mixture may be too rich to fire"
    elif here is not None and here > LEAN_MISSES:
        says |= {MIXTURE_LEAN: 0.4 * size, IGNITION: 0.5 * size}
        text += f"; lambda {here:.2f} may be too lean to fire, or reads lean because cycles are missed"
    return Evidence(what=text, says=says)


def _mixture_there(pulls: SessionPulls, finding: Finding) -> float | None:
    if finding.rpm is None or finding.setup not in pulls.setups:
        return None
    return mixture_at(pulls.setups[finding.setup], 0.5 * (finding.rpm[0] + finding.rpm[1]))
