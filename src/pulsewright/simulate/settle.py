"""Cycle after cycle until the engine repeats itself."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from pulsewright.bench.setup import Setup
from pulsewright.bench.throttle import throttle_of
from pulsewright.network.case import Case
from pulsewright.simulate.carried_state import carried_state
from pulsewright.simulate.cycle import CycleResult, run_cycle, set_speed
from pulsewright.simulate.mixing import Mixing
from pulsewright.simulate.rest import (
    DEAD,
    FIRES,
    MEAN_OVER,
    RESTLESS_OVER,
    by_turns,
    error_left,
    last_move,
    mean_torque,
    restless,
    steady,
)
from pulsewright.simulate.state_change import ChangeScale

CONVERGED = "converged"
CYCLE_LIMIT = "cycle limit reached: torque or mixture still moves; raise the cycle limit"
SWINGS = "does not settle: fires and misfires by turns near the limit of the mixture; the mean is given"
BY_TURNS = "does not settle: strong and weak cycles by turns; the mean is given"
NO_TWO_ALIKE = "does not settle: no two cycles are alike; the mean is given"
MISFIRE = "misfire: the mixture is outside the limits of ignition"
FAILED = "failed: the gas left the range of the model; check the sheet for extreme sizes"

TORQUE_WITHIN = 1e-3  # relative
SMALL_PRESSURE = 1e5  # [Pa] mean effective pressure that counts as small torque of an engine of known size
FEWEST_CYCLES = 2
SMALL_OPENING, MORE_CYCLES = 0.25, 4
# Openings of a throttle at which strong and weak cycles may follow each other by turns: seen up to 0.11 on the example,
# none at 0.12 and 0.14. Regression values.
TURNS_BELOW = 0.13


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerance:
    """When a cycle counts as the same as the last one, and how many are allowed.

    torque : share of itself that torque may still have to go. Lambda is then within twice this number, trapped
        mass within this share.
    mixed : whether the next cycle may start from a mixture of the last ones. That finds any state that repeats itself,
        also one that an engine leaves again for cycles that are strong and weak by turns.
    """

    torque: float = TORQUE_WITHIN
    most_cycles: int = 24
    mixed: bool = True


def patient(within: Tolerance, setup: Setup) -> Tolerance:
    """The tolerance with more cycles allowed where the throttle is so far shut that an engine is slow to arrive.

    A cycle then moves a tenth of the gas that its exhaust holds, and the pipes take many cycles to be filled anew.
    Nearly shut, cycles follow each other as they come.
    """
    opening = throttle_of(setup)
    if opening >= SMALL_OPENING:
        return within
    mixed = within.mixed and opening >= TURNS_BELOW
    return replace(within, most_cycles=MORE_CYCLES * within.most_cycles, mixed=mixed)


@dataclass(slots=True)
class Settled:
    """The last cycle of a speed, how many it took, and how it ended."""

    last: CycleResult
    torque: float  # [N m] of the last cycle, or the mean where it does not settle
    cycles: int
    outcome: str
    torque_left: float = float("nan")  # [N m] how far torque may still be from where it would end, estimated


def small_torque_of(setup: Setup) -> float:
    """Torque of a mean effective pressure of one bar. [N m]"""
    return SMALL_PRESSURE * setup.engine.displacement / (4.0 * np.pi)


def outcome_at_rest(complete: np.ndarray) -> str:
    """How a speed ended that repeats itself, from the share of cycles that fire. (cylinders,)"""
    return MISFIRE if np.all(complete < DEAD) else CONVERGED


def outcome_at_no_rest(complete: np.ndarray, told: str) -> str:
    """How a speed ended that has not come to rest: as `told` where every cylinder fires."""
    return SWINGS if np.any(complete < FIRES) else told


def settle(
    case: Case,
    rpm: float,
    within: Tolerance | None = None,
    stopped: Callable[[], bool] | None = None,
    fewest: int = FEWEST_CYCLES,
) -> Settled:
    """Run a case at one speed until it repeats itself; starts from whatever is in its pipes.

    `stopped` is asked before every cycle and ends the run with KeyboardInterrupt when it says True.
    fewest : cycles that are run in any case.
    """
    within = within or Tolerance()
    small = small_torque_of(case.setup)
    set_speed(case, rpm)
    history: list[CycleResult] = []
    changes: list[float] = []
    scale, mixing, start = ChangeScale(case), Mixing(), carried_state(case)
    left = float("nan")
    for n in range(1, within.most_cycles + 1):
        if stopped is not None and stopped():
            raise KeyboardInterrupt
        last = run_cycle(case)
        history.append(last)
        if last.failed:
            return Settled(last, float("nan"), n, FAILED)
        end = carried_state(case)
        change = scale.change(start, end)
        changes.append(float(np.linalg.norm(change)))
        left = error_left(changes, last_move(history, small), last.firing)
        if (
            n >= fewest
            and not np.any(case.arrays["cylinders"]["starting"])
            and (left <= within.torque or steady(history, within.torque, small))
        ):
            at_rest = outcome_at_rest(case.arrays["cylinders"]["complete"])
            error = min(left, within.torque) * max(abs(last.torque), small)
            return Settled(last, last.torque, n, at_rest, error)
        if by_turns(history, within.torque, small):
            return _no_rest(history, MEAN_OVER, BY_TURNS, within.torque, small)
        if restless(changes):
            return _no_rest(history, RESTLESS_OVER, NO_TWO_ALIKE, left, small)
        if n < within.most_cycles:
            start = mixing.follow(case, end, change) if within.mixed else end
    return _no_rest(history, MEAN_OVER, CYCLE_LIMIT, left, small)


def _no_rest(history: Sequence[CycleResult], cycles: int, told: str, left: float, small_torque: float) -> Settled:
    last, mean = history[-1], float(mean_torque(history, cycles))
    outcome = outcome_at_no_rest(last.firing, told)
    return Settled(last, mean, len(history), outcome, left * max(abs(mean), small_torque))
