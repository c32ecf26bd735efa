"""Mixture that costs torque over the whole riding band, what jets did about it, and cylinders that differ."""

from __future__ import annotations

import numpy as np

from pulsewright.bench.session import Session
from pulsewright.cause.causes import ENGINE, EXHAUST_WAVE, IGNITION, MIXTURE_LEAN, MIXTURE_RICH, NO_HOLE, RESTRICTION
from pulsewright.cause.evidence import Evidence, doubted_sensor, jets_only
from pulsewright.physics.power_versus_mixture import BEST_LAMBDA, mixture_factor
from pulsewright.pulls.session_pulls import SessionPulls

BROAD_LOSS = 0.015  # of torque over the riding band by mixture alone: worth a verdict
LARGE_LOSS = 0.04
SPLIT = 0.06  # [-] of lambda between cylinders; 5 to 15 % is common on a shared carburettor (common practice)


def mixture_evidence(session: Session, pulls: SessionPulls) -> list[Evidence]:
    """What the mixture of the whole riding band says; nothing where outside air may have reached the sensor."""
    if doubted_sensor(pulls, pulls.baseline):
        return []
    mean = band_mixture(pulls, pulls.baseline)
    if mean is None:
        return []
    return [*_broad(session, pulls, mean), *_split(pulls)]


def band_mixture(pulls: SessionPulls, name: str) -> float | None:
    """Mean measured lambda of a setup over the riding band; None where there is none. [-]"""
    values = _inside(pulls, pulls.setups[name].rpm, pulls.setups[name].mixture)
    return float(np.mean(values)) if values.size else None


def _inside(pulls: SessionPulls, rpm: np.ndarray, values: np.ndarray) -> np.ndarray:
    low, high = pulls.riding_band
    return values[(rpm >= low) & (rpm <= high) & np.isfinite(values)]


def _broad(session: Session, pulls: SessionPulls, mean: float) -> list[Evidence]:
    curves = pulls.setups[pulls.baseline]
    loss = float(np.mean([1.0 - mixture_factor(x) for x in _inside(pulls, curves.rpm, curves.mixture)]))
    wrong, other = (MIXTURE_RICH, MIXTURE_LEAN) if mean < BEST_LAMBDA else (MIXTURE_LEAN, MIXTURE_RICH)
    if loss < BROAD_LOSS:
        text = f"mean lambda {mean:.2f} in the riding band costs {100.0 * loss:.1f} %"
        return [Evidence(what=text, says={NO_HOLE: 0.0, wrong: -0.8, other: -1.2, ENGINE: 0.0, IGNITION: 0.0})]
    size = float(np.interp(loss, [BROAD_LOSS, LARGE_LOSS], [0.4, 1.0]))
    against = {NO_HOLE: -size, other: -1.2, ENGINE: -0.3 * size, RESTRICTION: -0.2 * size}
    text = f"mean lambda {mean:.2f} over the riding band costs about {100.0 * loss:.0f} % of torque"
    own = size if pulls.hole is None else 0.2 * size
    return [Evidence(what=text, says={wrong: own, **against}), *_jets_helped(session, pulls, mean, wrong)]


def _jets_helped(session: Session, pulls: SessionPulls, mean: float, wrong: str) -> list[Evidence]:
    """Jets that moved the mixture the right way and gained torque over the whole band."""
    found = []
    for comparison in pulls.comparisons:
        setup = session.setup(comparison.second)
        there = band_mixture(pulls, setup.name)
        if not jets_only(setup) or there is None or pulls.hole is not None or not comparison.proven:
            continue
        helped = (comparison.mean_percent > 0.0) == ((there > mean) == (wrong == MIXTURE_RICH))
        text = f"the jet change {setup.name} gave {comparison.mean_percent:+.1f} % over the riding band"
        size = 0.8 if helped else -0.8
        says = {wrong: size, NO_HOLE: -size, ENGINE: -0.5 * size, EXHAUST_WAVE: -0.5 * size, IGNITION: -0.5 * size}
        found.append(Evidence(what=text, says=says))
    return found


def _split(pulls: SessionPulls) -> list[Evidence]:
    """Two sensors, two mixtures: the mean of both hides a cylinder that runs lean or rich."""
    curves = pulls.setups[pulls.baseline]
    means = {name: _inside(pulls, curves.rpm, row) for name, row in curves.lambdas.items()}
    values = {name: float(np.mean(row)) for name, row in means.items() if row.size}
    if len(values) < 2 or max(values.values()) - min(values.values()) < SPLIT:
        return []
    lean, rich = max(values.values()), min(values.values())
    costs = {MIXTURE_LEAN: 1.0 - mixture_factor(lean), MIXTURE_RICH: 1.0 - mixture_factor(rich)}
    worse, better = sorted(costs, key=lambda cause: -costs[cause])
    cost = 0.5 * sum(costs.values())
    size = float(np.interp(cost, [0.005, 0.03], [0.1, 1.0]))
    text = (
        f"the cylinders differ: mean lambda {rich:.2f} and {lean:.2f}, which costs about {100.0 * cost:.1f} % of torque"
    )
    return [Evidence(what=text, says={worse: size, better: 0.3 * size, NO_HOLE: -size, ENGINE: -0.2})]
