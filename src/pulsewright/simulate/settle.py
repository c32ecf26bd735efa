"""Cycle after cycle until the engine repeats itself."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np

from pulsewright.bench.setup import Setup
from pulsewright.kernel.cylinder import FOLLOWS
from pulsewright.network.case import Case
from pulsewright.simulate.carried_state import carried_state
from pulsewright.simulate.cycle import CycleResult, run_cycle, set_speed
from pulsewright.simulate.mixing import Mixing

CONVERGED = "converged"
CYCLE_LIMIT = "cycle limit reached: torque or mixture still moves; raise the cycle limit"
SWINGS = "does not settle: fires and misfires by turns near the limit of the mixture; the mean is given"
MISFIRE = "misfire: the mixture is outside the limits of ignition"
FAILED = "failed: the gas left the range of the model; check the sheet for extreme sizes"

TORQUE_WITHIN = 1e-3  # relative
MASS_WITHIN = 1e-3
MIXTURE_WITHIN = 2e-3
SMALL_TORQUE = 20.0  # [N m] below it, torque is held to the tolerance of this much
SMALL_PRESSURE = 1e5  # [Pa] mean effective pressure that counts as small torque of an engine of known size
FEWEST_CYCLES, FEWEST_TAUGHT = 3, 2  # without and with a contraction that another run has shown
MEAN_OVER = 6  # cycles: a mean where it does not settle, a proof where they all agree

# Share of its distance that a value still has to go after one more cycle.
USUAL_CONTRACTION = 0.5  # taken where nothing better is known
LEAST_CONTRACTION, MOST_CONTRACTION = 0.4, 0.9  # what is believed of a measured one
STEPS_TO_JUDGE = 3
MISFIRING_CONTRACTION = 0.8  # where a cylinder misses: torque then turns round late, as raw mixture fills the pipes
FIRES = 0.999  # share of cycles
NEVER_MISSES = 0.9999
MARGIN = 1.25  # on a measured contraction
CLEAR_STEP = 5e-4  # of the torque; smaller steps hop with the time steps and show no contraction


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
    torque_left: float = float("nan")  # [N m] how far torque may still be from where it would end, estimated
    contraction: float | None = None  # shown by these cycles, or else the one that was told


def left_to_go(*values: Any, least: float = USUAL_CONTRACTION) -> Any:
    """How far a value that moves by shrinking steps still has to go, from its last two or three cycles; any shape.

    least : the share of its distance that is left after a cycle, at least; with three cycles their steps may
    show a larger one. A value that hops to and fro has no further to go than its last hop.
    """
    middle, now = values[-2:]
    with np.errstate(invalid="ignore", divide="ignore"):
        step = np.subtract(now, middle)
        last = np.subtract(middle, values[-3]) if len(values) > 2 else step
        ratio = np.clip(step / last, least, MOST_CONTRACTION) if len(values) > 2 else least
        ratio = np.where(last == 0.0, least, ratio)
        way = np.abs(step) * ratio / (1.0 - ratio)
    return np.where(np.isfinite(step) & np.isfinite(last), way, np.where(now == middle, 0.0, np.inf))


class Watched(Protocol):
    """What must repeat itself: torque (...), and by cylinder (..., cylinders) all else."""

    torque: Any
    work: np.ndarray
    firing: np.ndarray
    trapped: np.ndarray
    trapped_lambda: np.ndarray


def settled(
    history: Sequence[Watched],
    within: Tolerance,
    contraction: float | None = None,
    small_torque: float = SMALL_TORQUE,
) -> Any:
    """True where torque, trapped mass and mixture of every cylinder have nearly arrived.

    contraction : shown by a run much like this one; two cycles are then enough where their step is small.
    """
    if len(history) < (FEWEST_CYCLES if contraction is None else FEWEST_TAUGHT):
        return False
    last = history[-3:]
    least = USUAL_CONTRACTION if contraction is None else contraction
    torque, masses = last[-1].torque, last[-1].trapped
    torque_left = left_to_go(*(r.torque for r in last), least=least)
    mass_left = left_to_go(*(r.trapped for r in last), least=least)
    mixture_left = left_to_go(*(r.trapped_lambda for r in last), least=least)
    arrived = torque_left <= within.torque * np.maximum(np.abs(torque), small_torque)
    return arrived & np.all(mass_left <= within.mass * masses, -1) & np.all(mixture_left <= within.mixture, -1)


def arrived(history: Sequence[Watched], within: Tolerance, contraction: float | None, small_torque: float) -> Any:
    """`settled`, and every cylinder by itself: two that move against each other may leave torque as it is.

    Also where six cycles have kept within the tolerance: what hops to and fro with the time steps stays there.
    """
    calm = steady(history, within, small_torque)
    together = settled(history, within, contraction, small_torque)
    if not np.any(together):
        return calm
    last = history[-1]
    firing = left_to_go(*(r.firing for r in history[-3:]), least=1.0 - FOLLOWS)
    torque_left = work_left(history, contraction) <= within.torque * np.maximum(np.abs(last.torque), small_torque)
    return calm | (together & torque_left & np.all(firing <= within.torque, -1))


def steady(history: Sequence[Watched], within: Tolerance, small_torque: float) -> Any:
    """True where torque, trapped mass, mixture and firing have stayed within the tolerance for six cycles."""
    if len(history) < MEAN_OVER:
        return False
    tail, last = history[-MEAN_OVER:], history[-1]
    with np.errstate(invalid="ignore"):  # infinite lambda, where no fuel comes, is not steady
        torque = np.ptp([r.torque for r in tail], axis=0) <= within.torque * np.maximum(
            np.abs(last.torque), small_torque
        )
        mass = np.ptp([r.trapped for r in tail], axis=0) <= within.mass * last.trapped
        mixture = np.ptp([r.trapped_lambda for r in tail], axis=0) <= within.mixture
        firing = np.ptp([r.firing for r in tail], axis=0) <= within.torque
    return torque & np.all(mass & mixture & firing, axis=-1)


def work_left(history: Sequence[Watched], contraction: float | None) -> Any:
    """How far torque may still be from where it would end, every cylinder's way added up. [N m]

    One small step may be chance. So the last steps are taken as lying under a curve that falls by the
    contraction from cycle to cycle, and the way is what this curve still has to go.
    """
    if len(history) < 2:
        return float("nan")
    ratio = USUAL_CONTRACTION if contraction is None else contraction
    steps = work_steps(history[-1 - STEPS_TO_JUDGE :])[::-1]
    now = [step * ratio**cycles for cycles, step in enumerate(steps)]
    return np.max(now, axis=0) * ratio / (1.0 - ratio)


def work_steps(history: Sequence[Watched]) -> np.ndarray:
    """What torque moved by from cycle to cycle, every cylinder's move taken as positive. [N m] (cycles - 1, ...)"""
    return np.sum(np.abs(np.diff([r.work for r in history], axis=0)), axis=-1) / (4.0 * np.pi)


def shown_contraction(history: Sequence[CycleResult], small_torque: float = SMALL_TORQUE) -> float | None:
    """Mean contraction of the cylinders' work since its largest step, with a margin; None where no step was clear."""
    clear = CLEAR_STEP * max(abs(history[-1].torque), small_torque)
    steps = np.maximum(work_steps(history), clear)
    largest = int(np.argmax(steps)) if steps.size else 0
    cycles = int(steps.size) - 1 - largest
    if cycles < 1 or steps[largest] <= clear:
        return None
    mean = float(steps[-1] / steps[largest]) ** (1.0 / cycles)
    return float(np.clip(MARGIN * mean, LEAST_CONTRACTION, MOST_CONTRACTION))


def small_torque_of(setup: Setup) -> float:
    """Torque of a mean effective pressure of one bar. [N m]"""
    return SMALL_PRESSURE * setup.engine.displacement / (4.0 * np.pi)


def outcome_at_rest(complete: np.ndarray) -> str:
    """How a speed ended that repeats itself, from the share of cycles that fire. (cylinders,)"""
    return MISFIRE if np.all(complete < 0.5) else CONVERGED


def outcome_at_limit(complete: np.ndarray) -> str:
    """How a speed ended that does not repeat itself within the cycles allowed."""
    return SWINGS if np.any(complete < FIRES) else CYCLE_LIMIT


def settle(
    case: Case,
    rpm: float,
    within: Tolerance | None = None,
    stopped: Callable[[], bool] | None = None,
    contraction: float | None = None,
) -> Settled:
    """Run a case at one speed until it repeats itself; starts from whatever is in its pipes.

    `stopped` is asked before every cycle and ends the run with KeyboardInterrupt when it says True.
    contraction : shown by a run much like this one, see `settled`.
    """
    within = within or Tolerance()
    small = small_torque_of(case.setup)
    set_speed(case, rpm)
    history: list[CycleResult] = []
    mixing, start = Mixing(case), carried_state(case)
    for n in range(1, within.most_cycles + 1):
        if stopped is not None and stopped():
            raise KeyboardInterrupt
        history.append(run_cycle(case))
        if history[-1].failed:
            return Settled(history[-1], float("nan"), n, FAILED)
        if n >= FEWEST_CYCLES:  # what another run has shown no longer counts
            contraction = shown_contraction(history, small)
        if np.any(history[-1].firing < NEVER_MISSES):
            contraction = max(contraction or 0.0, MISFIRING_CONTRACTION)
        if arrived(history, within, contraction, small):
            outcome = outcome_at_rest(case.arrays["cylinders"]["complete"])
            return _settled(history, history[-1].torque, outcome, contraction)
        if n < within.most_cycles:
            start = mixing.follow(case, start)
    mean = float(np.mean([r.torque for r in history[-MEAN_OVER:]]))
    return _settled(history, mean, outcome_at_limit(case.arrays["cylinders"]["complete"]), contraction)


def _settled(history: list[CycleResult], torque: float, outcome: str, contraction: float | None) -> Settled:
    left = float(work_left(history, contraction))
    if outcome in (CONVERGED, MISFIRE) and len(history) >= MEAN_OVER:
        left = min(left, float(np.ptp([r.torque for r in history[-MEAN_OVER:]])))
    return Settled(history[-1], torque, len(history), outcome, left, contraction)
