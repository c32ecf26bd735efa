"""Measured torque against the plain model of the sheet: lost evenly, lost more and more with speed, or not lost.

How far an honest model of a healthy engine may lie off is stated below; it is far more than pulls scatter, so a
weak engine is seen only where it is weak by much.
"""

from __future__ import annotations

import math

import numpy as np

from pulsewright.cause.causes import (
    ENGINE,
    EXHAUST_WAVE,
    IGNITION,
    INTAKE_WAVE,
    MIXTURE_LEAN,
    MIXTURE_RICH,
    NO_HOLE,
    RESTRICTION,
    STARVATION,
)
from pulsewright.cause.evidence import Evidence
from pulsewright.pulls.session_pulls import SessionPulls
from pulsewright.simulate.prediction import Prediction

# Logs of measured torque over the model's: mean and standard deviation for a sound machine; the model as in
# docs/explanation/limits.md, dyno and drive by common practice.
SOUND_LEVEL = {"engine": (0.0, 0.09), "wheel": (math.log(0.88), 0.10)}
WEAK = (-0.18, 0.08)  # what low compression, late cam timing or drag take more, evenly (common practice)
SOUND_TILT = 0.06  # from the lowest to the highest third of the speeds
CHOKED = (-0.18, 0.08)  # what a tight place takes more at the top
MOST, LEAST = 1.2, -0.6
SHOWN = 0.15  # evidence below this is not worth a line


def level_evidence(pulls: SessionPulls, model: Prediction) -> list[Evidence]:
    """What the level and the tilt of the baseline's torque say; `model` is the sheet's, unfitted."""
    rest = _log_ratio(pulls, model)
    if rest is None:
        return []
    speeds, ratio = rest
    low, high = np.quantile(speeds, [1 / 3, 2 / 3])
    centre, spread = SOUND_LEVEL[pulls.setups[pulls.baseline].torque_at]
    ends = float(np.mean(ratio[speeds <= low])), float(np.mean(ratio[speeds >= high]))
    level, tilt = max(ends) - centre, ends[1] - ends[0]  # an even loss shows at both ends
    found = []
    even = float(np.clip(_odds(level, WEAK, spread), LEAST, MOST))
    if abs(even) >= SHOWN:
        text = f"at low and at high speed torque is {100.0 * math.expm1(level):+.0f} % from what the sheet lets expect"
        others = dict.fromkeys((NO_HOLE, MIXTURE_RICH, MIXTURE_LEAN, EXHAUST_WAVE, INTAKE_WAVE), 0.0)
        weak = {IGNITION: 0.4 * max(even, 0.0), NO_HOLE: -0.4 * max(even, 0.0)}
        found.append(Evidence(what=text, says={**others, **weak, ENGINE: even}))
    tight = float(np.clip(_odds(tilt, CHOKED, SOUND_TILT), LEAST, MOST))
    if abs(tight) >= SHOWN:
        text = f"from low to high speed the torque changes {100.0 * math.expm1(tilt):+.0f} % against the sheet's"
        steep = max(tight, 0.0)
        says = {RESTRICTION: tight, STARVATION: 0.5 * steep, IGNITION: 0.3 * steep, NO_HOLE: -0.4 * steep, ENGINE: 0.0}
        found.append(Evidence(what=text, says=says))
    return found


def _log_ratio(pulls: SessionPulls, model: Prediction) -> tuple[np.ndarray, np.ndarray] | None:
    """Speeds [rpm] outside the hole, and log of measured over model torque there."""
    curves = pulls.setups[pulls.baseline]
    known = np.isfinite(curves.torque)
    measured = np.interp(model.rpm, curves.rpm[known], curves.torque[known])
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.log(measured / np.where(model.torque_nm > 0.0, model.torque_nm, np.nan))
    use = np.isfinite(ratio) & (model.rpm >= curves.rpm[known][0]) & (model.rpm <= curves.rpm[known][-1])
    if pulls.hole is not None:
        use &= (model.rpm < pulls.hole.rpm_from) | (model.rpm > pulls.hole.rpm_to)
    return (model.rpm[use], ratio[use]) if use.sum() >= 6 else None


def _odds(value: float, fault: tuple[float, float], spread: float) -> float:
    """log10 of how much likelier a value is with the fault than without, both Gaussian."""
    wide = math.hypot(fault[1], spread)
    with_it = math.exp(-0.5 * ((value - fault[0]) / wide) ** 2) / wide
    without = math.exp(-0.5 * (value / spread) ** 2) / spread
    return math.log10(max(with_it, 1e-12) / max(without, 1e-12))
