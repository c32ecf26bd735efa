"""Slip: the engine runs ahead of the roller, where the torque is high or all through a pull.

The ratio of engine to roller speed over engine speed, as medians of steps of 200 rpm or more, is held against
its own lowest steps; those against the lowest steps of the other pulls. The scatter of the medians is allowed
for, so that a coarse log does not slip.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pulsewright.pulls.finding import Finding, odds_of
from pulsewright.pulls.limits import USUAL, Limits
from pulsewright.pulls.pull import Pull

STEP = 200.0  # [rpm] at least
LEAST_IN_STEP = 5  # samples, for a median that outvotes two
NOISE_ALLOWANCE = 4.0  # standard deviations of a step's median: the highest of 20 steps stays under it


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RatioCurve:
    """Engine to roller speed over a pull."""

    speed: np.ndarray  # (n_step,) engine speed [rpm]
    ahead: np.ndarray  # (n_step,) engine over roller, less the pull's lowest steps [-]
    base: float  # ratio in the lowest steps, unit as logged
    noise: float  # [-] standard deviation of one step


def ratio_of(pull: Pull) -> tuple[np.ndarray, np.ndarray]:
    """Engine speed [rpm] and its ratio to the roller's in the usable samples; empty without a roller."""
    if pull.roller_speed is None:
        return np.empty(0), np.empty(0)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = pull.engine_speed / pull.roller_speed
    ok = pull.usable & np.isfinite(ratio)
    return pull.engine_speed[ok], ratio[ok]


def ratio_curve(pull: Pull) -> RatioCurve | None:
    """The ratio over engine speed; None without a roller or with too few samples."""
    speed, ratio = ratio_of(pull)
    if speed.size < 3 * LEAST_IN_STEP:
        return None
    span = float(np.ptp(speed))
    count = max(3, min(int(span / STEP), speed.size // LEAST_IN_STEP))
    place = np.minimum((speed - speed.min()) / span * count, count - 1).astype(int)
    groups = [place == k for k in range(count) if (place == k).sum() >= LEAST_IN_STEP - 1]
    if len(groups) < 3:
        return None
    middles = np.array([np.median(ratio[group]) for group in groups])
    base = float(np.sort(middles)[: max(1, len(middles) // 4)].mean())
    rest = np.concatenate([ratio[group] - middle for group, middle in zip(groups, middles, strict=True)])
    scatter = 1.4826 * float(np.median(np.abs(rest))) / base
    size = float(np.median([group.sum() for group in groups]))
    return RatioCurve(
        speed=np.array([speed[group].mean() for group in groups]),
        ahead=middles / base - 1.0,
        base=base,
        noise=1.2533 * scatter / np.sqrt(size),  # a median is that much rougher than a mean
    )


def slip_findings(pulls: list[Pull], used: list[bool], limits: Limits = USUAL) -> list[Finding]:
    """Slip, pull by pull. used : False where the ratio of the whole pull is wrong anyway."""
    curves = [ratio_curve(pull) for pull in pulls]
    bases = [curve.base for curve, use in zip(curves, used, strict=True) if curve and use]
    usual = float(np.median(bases)) if bases else float("nan")
    found = []
    for number, (pull, curve, use) in enumerate(zip(pulls, curves, used, strict=True), start=1):
        if curve is None:
            continue
        limit = limits.slip + NOISE_ALLOWANCE * curve.noise
        if curve.ahead.max() > limit:
            found.append(_inside(pull, number, curve, limit))
        elif use and len(bases) > 2 and curve.base / usual - 1.0 > limit:
            found.append(_throughout(pull, number, curve.base / usual - 1.0, limit))
    return found


def _inside(pull: Pull, number: int, curve: RatioCurve, limit: float) -> Finding:
    at = curve.speed[curve.ahead > limit]
    order = np.argsort(pull.engine_speed[pull.usable])
    torque = np.interp(curve.speed, pull.engine_speed[pull.usable][order], pull.torque[pull.usable][order])
    follows = float(np.corrcoef(curve.ahead, torque)[0, 1])
    how = "; it comes and goes with torque, as slip does" if follows > 0.5 else ""
    return Finding(
        kind="slip", setup=pull.setup, pull=number, rpm=(float(at.min()), float(at.max())),
        strength=odds_of(float(curve.ahead.max()) / limit),
        evidence=f"the engine runs {curve.ahead.max():.1%} ahead of the roller at "
        f"{curve.speed[curve.ahead.argmax()]:.0f} rpm (limit {limit:.1%}){how}",
    )  # fmt: skip


def _throughout(pull: Pull, number: int, ahead: float, limit: float) -> Finding:
    return Finding(
        kind="slip", setup=pull.setup, pull=number, rpm=None, strength=odds_of(ahead / limit),
        evidence=f"all through the pull the engine runs {ahead:.1%} ahead of what the roller shows in the other "
        f"pulls (limit {limit:.1%}): slip, or another tyre pressure",
    )  # fmt: skip
