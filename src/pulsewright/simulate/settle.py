"""Cycle after cycle until the engine repeats itself."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np

from pulsewright.network.case import Case
from pulsewright.simulate.cycle import CycleResult, run_cycle, set_speed

CONVERGED = "converged"
CYCLE_LIMIT = "cycle limit reached: torque or mixture still moves; raise the cycle limit"
SWINGS = "does not settle: fires and misfires by turns near the limit of the mixture; the mean is given"
MISFIRE = "misfire: the mixture is outside the limits of ignition"
FAILED = "failed: the gas left the range of the model; check the sheet for extreme sizes"

TORQUE_WITHIN, TORQUE_FLOOR = 1e-3, 0.02  # relative, [N m]
MASS_WITHIN = 1e-3
MIXTURE_WITHIN = 2e-3
FEWEST_CYCLES = 3
MEAN_OVER = 6  # cycles, where it does not settle


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerance:
    """When a cycle counts as the same as the last one, and how many are allowed."""

    torque: float = TORQUE_WITHIN
    mass: float = MASS_WITHIN
    mixture: float = MIXTURE_WITHIN
    most_cycles: int = 24


@dataclass(slots=True)
class Settled:
    """The last cycle of a speed, how many it took, and how it ended."""

    last: CycleResult
    torque: float  # [N m] of the last cycle, or the mean where it does not settle
    cycles: int
    outcome: str


def left_to_go(before: Any, middle: Any, now: Any) -> Any:
    """How far a value that moves by shrinking steps still has to go, from three cycles in a row; any shape.

    A value that hops to and fro has no further to go than its last hop.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        step, last = np.subtract(now, middle), np.subtract(middle, before)
        ratio = np.where(last == 0.0, 0.0, np.clip(step / last, 0.0, 0.9))
        way = np.abs(step) * np.maximum(1.0, ratio / (1.0 - ratio))
    return np.where(np.isfinite(step) & np.isfinite(last), way, np.where(now == middle, 0.0, np.inf))


class Watched(Protocol):
    """What must repeat itself: torque (...), and by cylinder (..., cylinders) trapped mass and lambda."""

    torque: Any
    trapped: np.ndarray
    trapped_lambda: np.ndarray


def settled(history: Sequence[Watched], within: Tolerance) -> Any:
    """True where torque, trapped mass and mixture of every cylinder have nearly arrived."""
    if len(history) < FEWEST_CYCLES:
        return False
    a, b, c = history[-3:]
    torque = left_to_go(a.torque, b.torque, c.torque) <= np.maximum(within.torque * np.abs(c.torque), TORQUE_FLOOR)
    mass = left_to_go(a.trapped, b.trapped, c.trapped) <= within.mass * c.trapped
    mixture = left_to_go(a.trapped_lambda, b.trapped_lambda, c.trapped_lambda) <= within.mixture
    return torque & np.all(mass, axis=-1) & np.all(mixture, axis=-1)


def outcome_at_rest(complete: np.ndarray) -> str:
    """How a speed ended that repeats itself, from the share of cycles that fire. (cylinders,)"""
    return MISFIRE if np.all(complete < 0.5) else CONVERGED


def outcome_at_limit(complete: np.ndarray) -> str:
    """How a speed ended that does not repeat itself within the cycles allowed."""
    return SWINGS if np.any(complete < 0.999) else CYCLE_LIMIT


def settle(
    case: Case, rpm: float, within: Tolerance | None = None, stopped: Callable[[], bool] | None = None
) -> Settled:
    """Run a case at one speed until it repeats itself; starts from whatever is in its pipes.

    `stopped` is asked before every cycle and ends the run with KeyboardInterrupt when it says True.
    """
    within = within or Tolerance()
    set_speed(case, rpm)
    history: list[CycleResult] = []
    for n in range(1, within.most_cycles + 1):
        if stopped is not None and stopped():
            raise KeyboardInterrupt
        history.append(run_cycle(case))
        last = history[-1]
        if last.failed:
            return Settled(last, float("nan"), n, FAILED)
        if settled(history, within):
            return Settled(last, last.torque, n, outcome_at_rest(case.arrays["cylinders"]["complete"]))
    mean = float(np.mean([r.torque for r in history[-MEAN_OVER:]]))
    return Settled(history[-1], mean, within.most_cycles, outcome_at_limit(case.arrays["cylinders"]["complete"]))
