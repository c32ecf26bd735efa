"""Cycle after cycle until the engine repeats itself."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

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


def left_to_go(before: float, middle: float, now: float) -> float:
    """How far a value that moves by shrinking steps still has to go, from three cycles in a row.

    A value that hops to and fro has no further to go than its last hop.
    """
    step, last = now - middle, middle - before
    if not (math.isfinite(step) and math.isfinite(last)):
        return 0.0 if now == middle else math.inf
    ratio = min(max(step / last, 0.0), 0.9) if last else 0.0
    return abs(step) * max(1.0, ratio / (1.0 - ratio))


def settled(history: Sequence[CycleResult], within: Tolerance) -> bool:
    """True where torque, trapped mass and mixture of every cylinder have nearly arrived."""
    if len(history) < FEWEST_CYCLES:
        return False
    a, b, c = history[-3:]
    if left_to_go(a.torque, b.torque, c.torque) > max(within.torque * abs(c.torque), TORQUE_FLOOR):
        return False
    trapped = zip(a.trapped, b.trapped, c.trapped, strict=True)
    if any(left_to_go(*masses) > within.mass * masses[2] for masses in trapped):
        return False
    lambdas = zip(a.trapped_lambda, b.trapped_lambda, c.trapped_lambda, strict=True)
    return all(left_to_go(*row) <= within.mixture for row in lambdas)


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
            silent = bool(np.all(case.arrays["cylinders"]["complete"] < 0.5))
            return Settled(last, last.torque, n, MISFIRE if silent else CONVERGED)
    tail = history[-MEAN_OVER:]
    near_limit = bool(np.any(case.arrays["cylinders"]["complete"] < 0.999))
    mean = float(np.mean([r.torque for r in tail]))
    return Settled(history[-1], mean, within.most_cycles, SWINGS if near_limit else CYCLE_LIMIT)
