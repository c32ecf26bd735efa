"""What the hole itself says: that it is there and repeats, what its mixture costs, where the mixture bends."""

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
from pulsewright.cause.evidence import Evidence, doubted_sensor, mixture_at
from pulsewright.physics.power_versus_mixture import BEST_LAMBDA, mixture_factor
from pulsewright.pulls.session_pulls import SessionPulls
from pulsewright.pulls.setup_curves import SetupCurves

SIDES = 600.0  # [rpm] either side of the bottom, for the mixture's own dip
DIP = 0.02  # [-] of lambda: a dip that is seen
FLAT = 0.01  # [-] of lambda: none
PEAK = 0.04  # [-] of lambda: a lean peak in the hole
FUEL_LEFT, AIR_LEFT = 0.02, 0.05  # of torque that the mixture leaves to explain: fuel is enough, and is not

# How often a cause shows as a hole with two shoulders, log10 against the exhaust wave.
AS_A_HOLE = {
    EXHAUST_WAVE: 0.0, INTAKE_WAVE: 0.0, MIXTURE_RICH: -0.6, MIXTURE_LEAN: -0.5, STARVATION: -1.0,
    RESTRICTION: -1.2, IGNITION: -0.5, ENGINE: -1.3, MEASUREMENT: -0.7, NO_HOLE: -2.0,
}  # fmt: skip
WITHOUT_A_HOLE = {EXHAUST_WAVE: -2.0, INTAKE_WAVE: -2.0, MIXTURE_RICH: -0.1, MIXTURE_LEAN: -0.1, NO_HOLE: 0.0}
# What comes in one pull and not in the next is no pipe's doing.
NOT_REPEATED = {
    EXHAUST_WAVE: -1.5, INTAKE_WAVE: -1.5, MIXTURE_RICH: -1.2, MIXTURE_LEAN: -1.0, RESTRICTION: -1.5, ENGINE: -1.0,
    STARVATION: -0.3, IGNITION: -0.2, MEASUREMENT: 0.0, NO_HOLE: -0.3,
}  # fmt: skip


def hole_evidence(pulls: SessionPulls) -> list[Evidence]:
    """All that the baseline's hole says, or that there is none."""
    hole = pulls.hole
    if hole is None:
        return [Evidence(what="the torque curve has no hole of 3 % or more", says=WITHOUT_A_HOLE)]
    if not hole.repeats:
        return [Evidence(what="the hole does not repeat from pull to pull", says=NOT_REPEATED)]
    curves = pulls.setups[pulls.baseline]
    there = Evidence(what=f"the hole repeats in {hole.pulls} pulls at the same engine speed", says=AS_A_HOLE)
    return [there, *_budget(pulls, curves), *_bend(pulls, curves)]


def _budget(pulls: SessionPulls, curves: SetupCurves) -> list[Evidence]:
    """Rich or lean alone costs what the published torque curve says; what is left over is air or spark."""
    hole = pulls.hole
    assert hole is not None
    here = mixture_at(curves, hole.rpm_bottom)
    sides = [mixture_at(curves, rpm) for rpm in hole.rpm_shoulders]
    known = [s for s in sides if s is not None]
    if here is None or not known or doubted_sensor(pulls, pulls.baseline):
        return []
    cost = 1.0 - mixture_factor(here) / max(mixture_factor(s) for s in known)
    left = hole.depth - max(cost, 0.0)
    fuel = float(np.interp(left, [FUEL_LEFT, AIR_LEFT, 3.0 * AIR_LEFT], [0.0, -0.7, -1.2]))
    air = float(np.interp(left, [FUEL_LEFT, AIR_LEFT], [-0.6, 0.0]))
    text = (
        f"at lambda {here:.2f} the mixture alone costs {100.0 * max(cost, 0.0):.0f} %; "
        f"the hole is {100.0 * hole.depth:.0f} % deep"
    )
    others = (EXHAUST_WAVE, INTAKE_WAVE, IGNITION, ENGINE, MEASUREMENT, RESTRICTION)
    fuels = dict.fromkeys((MIXTURE_RICH, MIXTURE_LEAN, STARVATION), fuel)
    wrong, right = (MIXTURE_LEAN, MIXTURE_RICH) if here < BEST_LAMBDA else (MIXTURE_RICH, MIXTURE_LEAN)
    return [Evidence(what=text, says={right: fuel, **dict.fromkeys(others, air), **fuels, wrong: fuel - 0.5})]


def _bend(pulls: SessionPulls, curves: SetupCurves) -> list[Evidence]:
    """A rich dip, a lean peak or nothing in the lambda trace where the hole is."""
    hole = pulls.hole
    assert hole is not None
    here = mixture_at(curves, hole.rpm_bottom)
    sides = [mixture_at(curves, hole.rpm_bottom + d) for d in (-SIDES, SIDES)]
    known = [s for s in sides if s is not None]
    if here is None or len(known) < 2:
        return []
    dip = sum(known) / 2.0 - here
    if dip >= DIP:
        return [
            Evidence(
                what=f"the mixture is {dip:.2f} richer in the hole than beside it: air goes back and forth through the "
                "carburettor there, or the jets are rich there",
                says={
                    EXHAUST_WAVE: 0.1, INTAKE_WAVE: 0.0, MIXTURE_RICH: 0.1, IGNITION: -0.3, STARVATION: -0.7,
                    MIXTURE_LEAN: -0.7, MEASUREMENT: -0.2, ENGINE: -0.2,
                },
            )
        ]  # fmt: skip
    if dip <= -PEAK:
        return [
            Evidence(
                what=f"the mixture is {-dip:.2f} leaner in the hole than beside it",
                says={
                    MIXTURE_LEAN: 0.6, STARVATION: 0.1, IGNITION: 0.3, EXHAUST_WAVE: -0.5, INTAKE_WAVE: -0.4,
                    MIXTURE_RICH: -1.2,
                },
            )
        ]  # fmt: skip
    if abs(dip) <= FLAT:
        return [
            Evidence(
                what="the mixture is the same in the hole as beside it",
                says={IGNITION: 0.2, EXHAUST_WAVE: -0.1, MIXTURE_RICH: -0.8, MIXTURE_LEAN: -0.8, STARVATION: -0.8},
            )
        ]
    return []
