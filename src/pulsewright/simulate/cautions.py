"""Where a prediction says that work on the machine could hurt it: lean mixture, knock, misfire.

Lean gates at full and at part throttle are common practice, no published source. The knock delay behind the
knock margin is published as good to 30 %, so that a margin within 0.3 of zero cannot tell knock from none.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pulsewright.bench.setup import Setup
from pulsewright.bench.throttle import throttle_of
from pulsewright.simulate.cruise import CRUISE_BAND
from pulsewright.simulate.outcome import MISFIRE, SWINGS
from pulsewright.simulate.prediction import Prediction

LEAN_GATE = {"air": 0.92, "water": 0.95}  # lambda at full throttle by cooling
RED_LAMBDA = 1.0  # above this a pull is stopped
CRUISE_GATE = {cooling: lean for cooling, (_, lean) in CRUISE_BAND.items()}  # at part throttle, customary upper end
FULL_LOAD_FROM = 0.75  # of the throttle's way: the main jet rules and the full-throttle gates hold
KNOCK_DOUBT = 0.3  # of the published delay
FIRES_WELL = 0.95  # share of a cylinder's cycles: below this an engine runs rough, and readings are not of its mixture


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One danger over a stretch of engine speeds."""

    what: str
    cylinder: str | None  # number in digits; None: the whole engine
    rpm: tuple[float, ...]  # speeds at which it holds
    level: str  # "amber", "red"

    def as_json(self) -> dict[str, object]:
        """Plain data."""
        return {"what": self.what, "cylinder": self.cylinder, "rpm": list(self.rpm), "level": self.level}


def cautions(prediction: Prediction, setup: Setup) -> list[Caution]:
    """Lean, knock and misfire, in this order."""
    full_load = throttle_of(setup) >= FULL_LOAD_FROM
    lean, gates = (_lean, LEAN_GATE) if full_load else (_lean_cruise, CRUISE_GATE)
    gate = gates[setup.engine.cooling]
    found: list[Caution] = []
    for number, curves in prediction.per_cylinder.items():
        found += lean(prediction.rpm, curves["lambda_trapped"], number, gate)
    return found + _knock(prediction) + _misfire(prediction)


def _lean(rpm: np.ndarray, mixture: np.ndarray, number: str, gate: float) -> list[Caution]:
    red = mixture > RED_LAMBDA
    amber = (mixture > gate) & ~red
    rows = (
        (
            red,
            "red",
            f"lambda above {RED_LAMBDA:.2f} at full throttle: an engine can be damaged within seconds",
        ),
        (amber, "amber", f"lambda above the lean gate of {gate:.2f}: do not go leaner here"),
    )
    return [
        Caution(
            what=f"{what} (leanest {_most(mixture, where):.2f})",
            cylinder=number,
            rpm=_speeds(rpm, where),
            level=level,
        )
        for where, level, what in rows
        if where.any()
    ]


def _lean_cruise(rpm: np.ndarray, mixture: np.ndarray, number: str, gate: float) -> list[Caution]:
    where = mixture > gate
    if not where.any():
        return []
    what = f"lambda above the customary {gate:.2f} of part throttle (leanest {_most(mixture, where):.2f})"
    return [Caution(what=what, cylinder=number, rpm=_speeds(rpm, where), level="amber")]


def _knock(prediction: Prediction) -> list[Caution]:
    margin = prediction.knock_margin
    red, amber = margin < -KNOCK_DOUBT, (margin < 0.0) & (margin >= -KNOCK_DOUBT)
    rows = (
        (red, "red", "the model expects knock"),
        (amber, "amber", "the model expects knock, within its doubt: the published delay is good to 30 %"),
    )
    return [
        Caution(
            what=f"{what} (lowest margin {-_most(-margin, where):.2f}); listen, and retard rather than trust it",
            cylinder=None,
            rpm=_speeds(prediction.rpm, where),
            level=level,
        )
        for where, level, what in rows
        if where.any()
    ]


def _misfire(prediction: Prediction) -> list[Caution]:
    said = np.array([outcome in (MISFIRE, SWINGS) for outcome in prediction.outcome], dtype=bool)
    firing = np.min([curves["firing_share"] for curves in prediction.per_cylinder.values()], axis=0)
    where = said | (firing < FIRES_WELL)
    if not where.any():
        return []
    worst = float(np.min(firing[where]))
    what = (
        f"misfire (down to {100.0 * worst:.0f} % of the cycles burn): raw fuel burns in the exhaust, and a lambda "
        "sensor then reads falsely lean"
    )
    return [Caution(what=what, cylinder=None, rpm=_speeds(prediction.rpm, where), level="amber")]


def _most(values: np.ndarray, where: np.ndarray) -> float:
    return float(np.max(values[where]))


def _speeds(rpm: np.ndarray, where: np.ndarray) -> tuple[float, ...]:
    return tuple(float(x) for x in rpm[where])


def stretches(speeds: tuple[float, ...], all_speeds: np.ndarray) -> str:
    """Speeds in words, "2000 to 2500 and 4000 rpm": neighbours in `all_speeds` are drawn together."""
    ordered = sorted(float(x) for x in all_speeds if math.isfinite(x))
    runs: list[list[float]] = []
    for n, speed in enumerate(ordered):
        if speed not in speeds:
            continue
        if runs and n > 0 and runs[-1][-1] == ordered[n - 1]:
            runs[-1].append(speed)
        else:
            runs.append([speed])
    said = [f"{run[0]:g}" if len(run) == 1 else f"{run[0]:g} to {run[-1]:g}" for run in runs]
    return " and ".join([", ".join(said[:-1]), said[-1]] if len(said) > 1 else said) + " rpm"
