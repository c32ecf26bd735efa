"""When runs on the card repeat themselves, told from torque, cylinders and the means of the pipes.

The whole state, by which `simulate.settle` judges, stays on the card.

Cycles follow each other there as they come, so that what moves does so by shrinking steps.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Protocol

import numpy as np

from pulsewright.kernel.cylinder import FOLLOWS
from pulsewright.simulate.rest import CREEPING, MIXTURE_PER_TORQUE, Watched, steady
from pulsewright.simulate.settle import Tolerance

FEWEST = 3  # cycles
CONTRACTION = 0.5  # share of its distance that a value still has to go after one more cycle, at least
MOST_CONTRACTION = 0.9  # what is believed of a shown one
STEPS_TO_JUDGE = 3


class WatchedByCylinder(Watched, Protocol):
    """And the work of each cylinder, (..., cylinders)."""

    work: np.ndarray


def arrived(
    history: Sequence[WatchedByCylinder], pipe_fuel: Sequence[np.ndarray], within: Tolerance, small: Any
) -> Any:
    """True where torque, trapped mass, mixture and firing have nearly arrived, or stayed the same for six cycles.

    Every cylinder counts by itself: two that move against each other may leave torque as it is.

    pipe_fuel : what a sensor reads, the mean share of fuel in the gas of the pipes, burned or not; last cycle last,
    (..., cells).
    small : torque [N m] below which errors are held against this instead of torque, (...).
    """
    calm = steady(history, within.torque, small)
    if len(history) < FEWEST:
        return calm
    last, tail = history[-1], history[-3:]
    torque = within.torque * np.maximum(np.abs(last.torque), small)
    together = left_to_go([r.torque for r in tail]) <= torque
    by_itself = work_left(history) <= torque
    mass = left_to_go([r.trapped for r in tail]) <= within.torque * last.trapped
    mixture = left_to_go([r.trapped_lambda for r in tail]) <= MIXTURE_PER_TORQUE * within.torque
    firing = left_to_go([r.firing for r in tail], least=1.0 - FOLLOWS) <= CREEPING * within.torque
    near = np.logical_not(calm) & together & by_itself & np.all(mass & mixture & firing, -1)
    near[near] = pipes_arrived([fuel[near] for fuel in pipe_fuel[-3:]], within)  # many cells: asked of few
    return calm | near


def pipes_arrived(pipe_fuel: Sequence[np.ndarray], within: Tolerance) -> np.ndarray:
    """True where the mixture in all pipes has nearly arrived, as a share of the richest gas there is. (...)"""
    richest = np.max(pipe_fuel[-1], axis=-1, keepdims=True)
    return np.all(left_to_go(pipe_fuel) <= MIXTURE_PER_TORQUE * within.torque * richest, -1)


def left_to_go(way: Sequence[Any], least: float = CONTRACTION) -> Any:
    """How far a value that moves by shrinking steps still has to go, from its last three cycles; any shape.

    way : the three, the last one last.
    least : the share of its distance that is left after a cycle, at least; the steps may show a larger one. A value
    that hops to and fro has no further to go than its last hop.
    """
    before, middle, now = way
    with np.errstate(invalid="ignore", divide="ignore"):
        step, last = np.subtract(now, middle), np.subtract(middle, before)
        ratio = np.where(last == 0.0, least, np.clip(step / last, least, MOST_CONTRACTION))
        left = np.abs(step) * ratio / (1.0 - ratio)
    return np.where(np.isfinite(step) & np.isfinite(last), left, np.where(now == middle, 0.0, np.inf))


def work_left(history: Sequence[WatchedByCylinder]) -> Any:
    """How far torque may still be from where it would end, every cylinder's way added up. [N m]

    One small step may be chance. So the last steps are taken as lying under a curve that falls by the
    contraction from cycle to cycle, and the way is what this curve still has to go.
    """
    if len(history) < 2:
        return float("nan")
    work = np.diff([r.work for r in history[-1 - STEPS_TO_JUDGE :]], axis=0)
    steps = np.sum(np.abs(work), axis=-1)[::-1] / (4.0 * np.pi)
    now = [step * CONTRACTION**cycles for cycles, step in enumerate(steps)]
    return np.max(now, axis=0) * CONTRACTION / (1.0 - CONTRACTION)
