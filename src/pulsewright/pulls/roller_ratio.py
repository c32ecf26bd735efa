"""Ratio of engine speed to roller speed: slip inside a pull, a pick-up wrong over a whole pull.

Slip lets the engine run ahead of the roller. The ratio over engine speed, as medians in 200 rpm steps, is
held against its own first steps. Common practice, no published source: a drift of over 1 % inside a pull is
slip.
"""

from __future__ import annotations

import numpy as np

from pulsewright.pulls.finding import Finding, odds_of
from pulsewright.pulls.pull import Pull

SLIP = 0.01  # [-]
STEP = 200.0  # [rpm]
WRONG_RATIO = 0.2  # [-] against the other pulls: another gear or a wrong count, never slip
PICKUP_SHARE = 0.05  # [-] of samples, at least
PICKUP_HABIT = 0.03  # [-] clamps lose or double 1 to 3 % as a habit (common practice)
PICKUP_CHANCE = 0.0005  # that a habit of 3 % shows as many in a pull: 1.5 % of sessions of thirty pulls


def pull_ratio(pull: Pull) -> float:
    """Median ratio of engine to roller speed; NaN without a roller."""
    if pull.roller_speed is None:
        return float("nan")
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = pull.engine_speed / pull.roller_speed
    ratio = ratio[pull.usable & np.isfinite(ratio)]
    return float(np.median(ratio)) if ratio.size else float("nan")


def slip_curve(pull: Pull) -> tuple[np.ndarray, np.ndarray]:
    """Engine speed [rpm] and slip [-] against the lowest of the pull's steps. Empty without a roller."""
    if pull.roller_speed is None:
        return np.empty(0), np.empty(0)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = pull.engine_speed / pull.roller_speed
    ok = pull.usable & np.isfinite(ratio)
    place = np.floor(pull.engine_speed[ok] / STEP)
    steps = [(STEP * (k + 0.5), np.median(ratio[ok][place == k])) for k in np.unique(place) if (place == k).sum() > 3]
    if len(steps) < 3:
        return np.empty(0), np.empty(0)
    speeds, ratios = (np.array(column) for column in zip(*steps, strict=True))
    return speeds, ratios / np.sort(ratios)[: max(1, len(ratios) // 4)].mean() - 1.0


def slip_findings(pulls: list[Pull]) -> list[Finding]:
    """Slip, pull by pull."""
    found = []
    for number, pull in enumerate(pulls, start=1):
        speeds, slip = slip_curve(pull)
        if not slip.size or slip.max() <= SLIP:
            continue
        at = speeds[slip > SLIP]
        strong = np.corrcoef(slip, np.interp(speeds, *_sorted(pull)))[0, 1]
        found.append(
            Finding(
                kind="slip", setup=pull.setup, pull=number, rpm=(float(at.min()), float(at.max())),
                strength=odds_of(float(slip.max()) / SLIP),
                evidence=f"engine runs {slip.max():.1%} ahead of the roller at "
                f"{speeds[slip.argmax()]:.0f} rpm "
                f"(limit {SLIP:.0%}; correlation with torque {strong:+.1f})",
            )
        )  # fmt: skip
    return found


def _sorted(pull: Pull) -> tuple[np.ndarray, np.ndarray]:
    order = np.argsort(pull.engine_speed[pull.usable])
    return pull.engine_speed[pull.usable][order], pull.torque[pull.usable][order]


def pickup_findings(pulls: list[Pull]) -> list[Finding]:
    """Pick-up faults in single samples, and whole pulls whose ratio is another than the session's."""
    found = []
    ratios = np.array([pull_ratio(pull) for pull in pulls])
    usual = np.nanmedian(ratios) if np.isfinite(ratios).any() else np.nan
    for number, (pull, ratio) in enumerate(zip(pulls, ratios, strict=True), start=1):
        most = most_pickup_faults(pull.engine_speed.size)
        if pull.pickup_faults > most:
            found.append(_pickup(pull, number, odds_of(pull.pickup_faults / most),
                f"engine speed dropped, doubled or halved in {pull.pickup_faults} of "
                f"{pull.engine_speed.size} samples; "
                "they are left out"))  # fmt: skip
        if np.isfinite(ratio) and abs(ratio / usual - 1.0) > WRONG_RATIO:
            found.append(_pickup(pull, number, odds_of(abs(ratio / usual - 1.0) / WRONG_RATIO),
                f"engine speed is {ratio / usual:.2f} times what the roller shows in the other pulls: "
                "another gear or a wrong count; the pull is left out"))  # fmt: skip
    return found


def most_pickup_faults(samples: int) -> float:
    """Faulty samples that a sound clamp may show in a pull: the binomial tail of its habit."""
    from scipy.stats import binom

    return max(PICKUP_SHARE * samples, float(binom.isf(PICKUP_CHANCE, samples, PICKUP_HABIT)))


def wrong_ratio(pulls: list[Pull]) -> np.ndarray:
    """Pulls whose speed ratio does not belong to the session. (n_pull,) bool"""
    ratios = np.array([pull_ratio(pull) for pull in pulls])
    if not np.isfinite(ratios).any():
        return np.zeros(len(pulls), dtype=bool)
    with np.errstate(invalid="ignore"):
        return np.abs(ratios / np.nanmedian(ratios) - 1.0) > WRONG_RATIO


def _pickup(pull: Pull, number: int, strength: float, evidence: str) -> Finding:
    return Finding(kind="pick-up", setup=pull.setup, pull=number, rpm=None, strength=strength, evidence=evidence)
