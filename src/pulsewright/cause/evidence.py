"""What the pulls themselves say for and against each cause, without any model of the engine.

Weights are log10 of odds: 0.3 is two to one, 1 ten to one. They are common practice put into numbers
(no published source); the calibration over many sessions belongs to the fitted model.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pulsewright.bench.session import Session, SessionSetup
from pulsewright.cause.causes import (
    EXHAUST_WAVE,
    IGNITION,
    INTAKE_WAVE,
    MEASUREMENT,
    MIXTURE_LEAN,
    MIXTURE_RICH,
    NO_HOLE,
    STARVATION,
)
from pulsewright.physics.power_versus_mixture import mixture_factor
from pulsewright.pulls.comparison import Comparison
from pulsewright.pulls.finding import Finding
from pulsewright.pulls.session_pulls import SessionPulls
from pulsewright.pulls.setup_curves import SetupCurves

MOVED = 100.0  # [rpm] a bottom that moves further has moved
SHRUNK = 0.6  # depth left over, below which a hole has shrunk
HELD = 0.7  # depth left over, above which a hole has stayed
SIDES = 600.0  # [rpm] either side of the bottom, for the mixture's own dip
RICH_DIP = 0.02  # [-] of lambda
MIXTURE_MOVED = 0.03  # [-] of lambda: a jet change that flowed differently
BROAD_LOSS = 0.015  # of torque over the riding band by mixture alone: worth a verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """One observation: which cause it speaks for, which against, and how strongly (log10 odds)."""

    what: str
    supports: str
    against: str
    weight: float


def gather_evidence(session: Session, pulls: SessionPulls) -> list[Evidence]:
    """All observations of a session, strongest first."""
    curves = pulls.setups[pulls.baseline]
    found = [*_hole(pulls), *_broad_mixture(session, pulls, curves)]
    if pulls.hole is not None:
        found += _depth_budget(pulls, curves) + _rich_dip(pulls, curves)
        for comparison in pulls.comparisons:
            found += _change(session, pulls, comparison)
    found += [e for f in pulls.findings for e in _artefact(f, pulls)]
    return sorted(found, key=lambda e: -e.weight)


def mixture_at(curves: SetupCurves, rpm: float) -> float | None:
    """Measured lambda of a setup at a speed, None where it is not known. [-]"""
    known = np.isfinite(curves.mixture)
    if not known.any() or not curves.rpm[known][0] - 50.0 <= rpm <= curves.rpm[known][-1] + 50.0:
        return None
    return float(np.interp(rpm, curves.rpm[known], curves.mixture[known]))


def jets_only(setup: SessionSetup) -> bool:
    """True where a setup differs from what it is based on by the carburettor alone."""
    return bool(setup.changes) and all(path.startswith("carburettor") for path, _ in setup.changes)


def exhaust_only(setup: SessionSetup) -> bool:
    """True where a setup differs from what it is based on by the exhaust alone."""
    return bool(setup.changes) and all(path.startswith("exhaust") for path, _ in setup.changes)


def doubted_sensor(pulls: SessionPulls, setup: str) -> bool:
    """True where outside air may have reached the lambda sensor of a setup."""
    return pulls.sensor_doubted(setup)


def _hole(pulls: SessionPulls) -> list[Evidence]:
    hole = pulls.hole
    if hole is None:
        return [
            Evidence(
                what="the torque curve has no hole of 3 % or more", supports=NO_HOLE, against=EXHAUST_WAVE, weight=1.0
            )
        ]
    if not hole.repeats:
        return [Evidence(what="the hole does not repeat", supports=MEASUREMENT, against=EXHAUST_WAVE, weight=1.0)]
    return [
        Evidence(
            what=f"the hole repeats in {hole.pulls} pulls at the same engine speed",
            supports=EXHAUST_WAVE, against=MEASUREMENT, weight=0.8,
        )
    ]  # fmt: skip


def _depth_budget(pulls: SessionPulls, curves: SetupCurves) -> list[Evidence]:
    """Rich or lean alone costs what the published torque curve says; what is left over is air or spark."""
    hole = pulls.hole
    assert hole is not None
    here = mixture_at(curves, hole.rpm_bottom)
    sides = [mixture_at(curves, rpm) for rpm in hole.rpm_shoulders]
    known = [s for s in sides if s is not None]
    if here is None or not known or doubted_sensor(pulls, pulls.baseline):
        return []
    budget = 1.0 - mixture_factor(here) / max(mixture_factor(s) for s in known)
    left = hole.depth - budget
    wrong = MIXTURE_RICH if here < 0.9 else MIXTURE_LEAN
    cost, deep = 100.0 * max(budget, 0.0), 100.0 * hole.depth
    text = f"at lambda {here:.2f} the mixture alone costs {cost:.0f} %; the hole is {deep:.0f} % deep"
    if left >= 0.05:
        return [Evidence(what=text, supports=EXHAUST_WAVE, against=wrong, weight=1.0)]
    if left <= 0.02:
        return [Evidence(what=text, supports=wrong, against=EXHAUST_WAVE, weight=1.0)]
    return [Evidence(what=text, supports=EXHAUST_WAVE, against=wrong, weight=0.3)]


def _rich_dip(pulls: SessionPulls, curves: SetupCurves) -> list[Evidence]:
    hole = pulls.hole
    assert hole is not None
    here = mixture_at(curves, hole.rpm_bottom)
    sides = [mixture_at(curves, hole.rpm_bottom + d) for d in (-SIDES, SIDES)]
    known = [s for s in sides if s is not None]
    if here is None or len(known) < 2 or sum(known) / 2.0 - here < RICH_DIP:
        return []
    return [
        Evidence(
            what=f"the mixture is {sum(known) / 2.0 - here:.2f} richer in the hole than beside it: air goes back and "
            "forth through the carburettor there",
            supports=EXHAUST_WAVE, against=IGNITION, weight=0.3,
        )
    ]  # fmt: skip


def _change(session: Session, pulls: SessionPulls, comparison: Comparison) -> list[Evidence]:
    """What a pulled change did to the hole."""
    setup = session.setup(comparison.second)
    if setup.based_on != pulls.baseline:
        return []
    before, after = pulls.hole, pulls.setups[setup.name].hole
    assert before is not None
    if jets_only(setup):
        return _jets(pulls, comparison, setup.name)
    left = after.depth / before.depth if after else 0.0
    moved = abs(after.rpm_bottom - before.rpm_bottom) if after else 0.0
    if not exhaust_only(setup):
        return []
    gain = comparison.bottom_percent
    if left < SHRUNK or (moved > MOVED and left < 1.3):
        how = _what_it_did(left, moved)
        more = f", torque at its bottom {gain:+.0f} %" if gain is not None else ""
        return [
            Evidence(
                what=f"the hole {how} when only the exhaust was changed ({setup.name}){more}",
                supports=EXHAUST_WAVE, against=MIXTURE_RICH, weight=2.0,
            )
        ]  # fmt: skip
    if left > HELD and moved < MOVED:
        return [
            Evidence(
                what=f"the hole stayed where it was when the exhaust was changed ({setup.name})",
                supports=INTAKE_WAVE, against=EXHAUST_WAVE, weight=0.7,
            )
        ]  # fmt: skip
    return []


def _what_it_did(left: float, moved: float) -> str:
    """A hole that moved, shrank or vanished, in words; `left` is the share of its depth."""
    if moved > MOVED and left >= SHRUNK:
        return f"moved by {moved:.0f} rpm"
    return f"shrank to {100.0 * left:.0f} % of its depth" if left > 0.0 else "vanished"


def _jets(pulls: SessionPulls, comparison: Comparison, name: str) -> list[Evidence]:
    before, after = pulls.hole, pulls.setups[name].hole
    assert before is not None
    left = after.depth / before.depth if after else 0.0
    base, other = pulls.setups[pulls.baseline], pulls.setups[name]
    pair = mixture_at(base, before.rpm_bottom), mixture_at(other, before.rpm_bottom)
    if pair[0] is None or pair[1] is None or abs(pair[1] - pair[0]) < MIXTURE_MOVED:
        return []
    shift = f"lambda at the bottom {pair[0]:.2f} to {pair[1]:.2f}"
    if left > 0.5:
        return [
            Evidence(
                what=f"the hole stayed, {100.0 * left:.0f} % of its depth, when only jets were changed "
                f"({name}; {shift})",
                supports=EXHAUST_WAVE, against=MIXTURE_RICH, weight=1.2 if left > HELD else 0.6,
            )
        ]  # fmt: skip
    return [
        Evidence(
            what=f"the hole filled when only jets were changed ({name}; {shift})",
            supports=MIXTURE_RICH if pair[1] > pair[0] else MIXTURE_LEAN, against=EXHAUST_WAVE, weight=1.5,
        )
    ]  # fmt: skip


def _broad_mixture(session: Session, pulls: SessionPulls, curves: SetupCurves) -> list[Evidence]:
    """Mixture that costs torque over the whole riding band, and what a jet change did about it."""
    if doubted_sensor(pulls, pulls.baseline):
        return []
    low, high = pulls.riding_band
    inside = (curves.rpm >= low) & (curves.rpm <= high) & np.isfinite(curves.mixture)
    if not inside.any():
        return []
    loss = float(np.mean([1.0 - mixture_factor(x) for x in curves.mixture[inside]]))
    mean = float(np.mean(curves.mixture[inside]))
    wrong = MIXTURE_RICH if mean < 0.85 else MIXTURE_LEAN
    if loss < BROAD_LOSS:
        if pulls.hole is None:
            text = f"mean lambda {mean:.2f} in the riding band costs {100.0 * loss:.1f} %"
            return [Evidence(what=text, supports=NO_HOLE, against=wrong, weight=0.7)]
        return []
    weight = 1.0 if pulls.hole is None else 0.2
    text = f"mean lambda {mean:.2f} over the riding band costs about {100.0 * loss:.0f} % of torque"
    found = [Evidence(what=text, supports=wrong, against=NO_HOLE, weight=weight)]
    for comparison in pulls.comparisons:
        setup = session.setup(comparison.second)
        leaner = _band_mixture(pulls, setup.name) - mean
        helps = comparison.proven and comparison.mean_percent > 0.0 and pulls.hole is None
        if jets_only(setup) and helps and (leaner > 0.0) == (wrong == MIXTURE_RICH):
            text = f"the jet change {setup.name} gave {comparison.mean_percent:+.1f} % over the riding band"
            found.append(Evidence(what=text, supports=wrong, against=NO_HOLE, weight=1.3))
    return found


def _band_mixture(pulls: SessionPulls, name: str) -> float:
    curves = pulls.setups[name]
    low, high = pulls.riding_band
    inside = (curves.rpm >= low) & (curves.rpm <= high) & np.isfinite(curves.mixture)
    return float(np.mean(curves.mixture[inside])) if inside.any() else float("nan")


def _artefact(finding: Finding, pulls: SessionPulls) -> Sequence[Evidence]:
    """Findings about the measurement; warm-up that is already taken out explains nothing."""
    no_hole = pulls.hole is None
    where = f" ({finding.setup})" if finding.setup else ""
    text = f"{finding.kind}{where}: {finding.evidence}"
    if finding.kind in ("slip", "pick-up"):
        return [Evidence(what=text, supports=MEASUREMENT, against=EXHAUST_WAVE, weight=min(2.0, finding.strength))]
    if finding.kind == "dilution":
        weight = min(1.5, finding.strength) if no_hole else 0.2
        return [Evidence(what=text, supports=MEASUREMENT, against=MIXTURE_LEAN, weight=weight)]
    if finding.kind in ("heat soak", "drift") and no_hole and not any(c.proven for c in pulls.comparisons):
        return [Evidence(what=text, supports=MEASUREMENT, against=NO_HOLE, weight=max(0.5, min(1.5, finding.strength)))]
    if finding.kind == "fuel starvation":
        return [Evidence(what=text, supports=STARVATION, against=MIXTURE_LEAN, weight=min(2.0, finding.strength))]
    if finding.kind == "misfire":
        return [Evidence(what=text, supports=IGNITION, against=NO_HOLE, weight=min(1.5, finding.strength))]
    return []
