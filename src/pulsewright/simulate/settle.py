"""Cycle after cycle until the engine repeats itself."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Protocol

import numpy as np

from pulsewright.bench.setup import Setup
from pulsewright.bench.throttle import throttle_of
from pulsewright.network.case import Case
from pulsewright.simulate.carried_state import carried_state
from pulsewright.simulate.cycle import CycleResult, run_cycle, set_speed
from pulsewright.simulate.mixing import Mixing
from pulsewright.simulate.state_change import ChangeScale

CONVERGED = "converged"
CYCLE_LIMIT = "cycle limit reached: torque or mixture still moves; raise the cycle limit"
SWINGS = "does not settle: fires and misfires by turns near the limit of the mixture; the mean is given"
MISFIRE = "misfire: the mixture is outside the limits of ignition"
FAILED = "failed: the gas left the range of the model; check the sheet for extreme sizes"

TORQUE_WITHIN = 1e-3  # relative
MIXTURE_PER_TORQUE = 2.0  # lambda is held to this many times the tolerance of torque
SMALL_PRESSURE = 1e5  # [Pa] mean effective pressure that counts as small torque of an engine of known size
FEWEST_CYCLES = 2
SMALL_OPENING, MORE_CYCLES = 0.25, 4
CREEPING = 0.25  # of the tolerance, that six cycles keep within where a cylinder misses
MEAN_OVER = 6  # cycles: a mean where it does not settle, a proof where they all agree

# Torque's relative error over what the state still has to go. On sheets drawn at random it was up to 1.3 times the
# last change of the state; lambda's error no more, trapped mass's a quarter of that. With 0.8 here, errors on 50
# other sheets came up to 1.4 times the estimate, and three times where torque is small; so it is twice that.
# Regression values of this code, kept by a study against forty cycles.
ERROR_PER_CHANGE = 1.6
USUAL_CONTRACTION = 0.5  # share of its way that the state still has to go after one more cycle, while none is shown
LEAST_CONTRACTION, MOST_CONTRACTION = 0.3, 0.9  # what is believed of a shown one
MISFIRING_CONTRACTION = 0.8  # where a cylinder misses: torque then turns round late, as raw mixture fills the pipes
DEAD, DEAD_CONTRACTION = 0.5, 0.95  # share of its cycles below which a cylinder is dead: the pipes creep on for long
FIRES = 0.999  # share of cycles
NEVER_MISSES = 0.9999


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerance:
    """When a cycle counts as the same as the last one, and how many are allowed.

    torque : share of itself that torque may still have to go. Lambda is then within twice this number, trapped
        mass within this share.
    """

    torque: float = TORQUE_WITHIN
    most_cycles: int = 24


def patient(within: Tolerance, setup: Setup) -> Tolerance:
    """The tolerance with more cycles allowed where the throttle is so far shut that an engine is slow to arrive.

    A cycle then moves a tenth of the gas that its exhaust holds, and the pipes take many cycles to be filled anew.
    """
    if throttle_of(setup) >= SMALL_OPENING:
        return within
    return replace(within, most_cycles=MORE_CYCLES * within.most_cycles)


@dataclass(slots=True)
class Settled:
    """The last cycle of a speed, how many it took, and how it ended."""

    last: CycleResult
    torque: float  # [N m] of the last cycle, or the mean where it does not settle
    cycles: int
    outcome: str
    torque_left: float = float("nan")  # [N m] how far torque may still be from where it would end, estimated


def error_left(changes: Sequence[float], firing: np.ndarray) -> float:
    """Relative error that torque may still have, from the sizes of the state's changes over the cycles so far.

    Changes shrink by much the same share from cycle to cycle, so the last two tell how far the state still has
    to go. firing : share of cycles that fire, by cylinder.
    """
    shown = changes[-1] / changes[-2] if len(changes) > 1 and changes[-2] > 0.0 else USUAL_CONTRACTION
    ratio = min(max(shown, LEAST_CONTRACTION), MOST_CONTRACTION)
    if np.any(firing < NEVER_MISSES):
        ratio = max(ratio, DEAD_CONTRACTION if np.any(firing < DEAD) else MISFIRING_CONTRACTION)
    return ERROR_PER_CHANGE * changes[-1] / (1.0 - ratio)


class Watched(Protocol):
    """What must repeat itself: torque (...), and by cylinder (..., cylinders) all else."""

    torque: Any
    work: np.ndarray
    firing: np.ndarray
    trapped: np.ndarray
    trapped_lambda: np.ndarray


def steady(history: Sequence[Watched], within: Tolerance, small_torque: float) -> Any:
    """True where torque, trapped mass, mixture and firing have stayed within the tolerance for six cycles.

    What hops to and fro with the time steps stays there, however much its state still changes. Where a cylinder
    misses, things creep, and a quarter of the tolerance is asked.
    """
    if len(history) < MEAN_OVER:
        return False
    tail, last = history[-MEAN_OVER:], history[-1]
    misses = np.any(np.asarray(last.firing) < NEVER_MISSES, axis=-1)
    share = within.torque * np.where(misses, CREEPING, 1.0)
    with np.errstate(invalid="ignore"):  # infinite lambda, where no fuel comes, is not steady
        torque = np.ptp([r.torque for r in tail], axis=0) <= share * np.maximum(np.abs(last.torque), small_torque)
        mass = np.ptp([r.trapped for r in tail], axis=0) <= within.torque * last.trapped
        mixture = np.ptp([r.trapped_lambda for r in tail], axis=0) <= MIXTURE_PER_TORQUE * within.torque
        firing = np.ptp([r.firing for r in tail], axis=0) <= within.torque
    return torque & np.all(mass & mixture & firing, axis=-1)


def small_torque_of(setup: Setup) -> float:
    """Torque of a mean effective pressure of one bar. [N m]"""
    return SMALL_PRESSURE * setup.engine.displacement / (4.0 * np.pi)


def outcome_at_rest(complete: np.ndarray) -> str:
    """How a speed ended that repeats itself, from the share of cycles that fire. (cylinders,)"""
    return MISFIRE if np.all(complete < DEAD) else CONVERGED


def outcome_at_limit(complete: np.ndarray) -> str:
    """How a speed ended that does not repeat itself within the cycles allowed."""
    return SWINGS if np.any(complete < FIRES) else CYCLE_LIMIT


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
        left = error_left(changes, last.firing)
        if n >= fewest and (left <= within.torque or steady(history, within, small)):
            at_rest = outcome_at_rest(case.arrays["cylinders"]["complete"])
            error = min(left, within.torque) * max(abs(last.torque), small)
            return Settled(last, last.torque, n, at_rest, error)
        if n < within.most_cycles:
            start = mixing.follow(case, end, change)
    mean = float(np.mean([r.torque for r in history[-MEAN_OVER:]]))
    outcome = outcome_at_limit(case.arrays["cylinders"]["complete"])
    return Settled(history[-1], mean, len(history), outcome, left * max(abs(mean), small))
