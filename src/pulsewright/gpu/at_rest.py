"""When runs on the card repeat themselves, told from torque, cylinders and the means of the pipes.

The whole state, by which `simulate.settle` judges, stays on the card.

Cycles follow each other there as they come, so that what moves does so by shrinking steps.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Protocol

import numpy as np

from pulsewright.kernel.cylinder import FOLLOWS
from pulsewright.simulate.rest import MIXTURE_PER_TORQUE, Watched, steady
from pulsewright.simulate.settle import Tolerance

FEWEST = 3  # cycles
CONTRACTION = 0.5  # share of its distance that a value still has to go after one more cycle, at least
MOST_CONTRACTION = 0.9  # what is believed of a shown one
STEPS_TO_JUDGE = 3
# Shares of the tolerance. Of 686 speeds of random sheets, from rest and held against seventy cycles, one is off by more
# than the tolerance (0.12 % of torque), as with narrower ones. Regression values.
WORK_WITHIN, FIRING_WITHIN, PIPES_WITHIN = 0.8, 0.5, 1.25 * MIXTURE_PER_TORQUE


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
    by_itself = work_left(history) <= WORK_WITHIN * torque
    mass = left_to_go([r.trapped for r in tail]) <= within.torque * last.trapped
    mixture = left_to_go([r.trapped_lambda for r in tail]) <= MIXTURE_PER_TORQUE * within.torque
    firing = left_under([r.firing for r in tail], 1.0 - FOLLOWS) <= FIRING_WITHIN * within.torque
    near = np.logical_not(calm) & together & by_itself & np.all(mass & mixture & firing, -1)
    near[near] = pipes_arrived([fuel[near] for fuel in pipe_fuel[-3:]], within)  # many cells: asked of few
    return calm | near


def pipes_arrived(pipe_fuel: Sequence[np.ndarray], within: Tolerance) -> np.ndarray:
    """True where the mixture in all pipes has nearly arrived, as a share of the richest gas there is. (...)"""
    richest = np.max(pipe_fuel[-1], axis=-1, keepdims=True)
    return np.all(left_under(pipe_fuel) <= PIPES_WITHIN * within.torque * richest, -1)


def left_to_go(way: Sequence[Any]) -> Any:
    """How far a value that moves by shrinking steps still has to go, from its last three cycles; any shape.

    way : the three, the last one last. A value that hops to and fro has no further to go than its last hop.
    """
    before, middle, now = way
    with np.errstate(invalid="ignore", divide="ignore"):
        step, last = np.subtract(now, middle), np.subtract(middle, before)
        ratio = np.where(last == 0.0, CONTRACTION, np.clip(step / last, CONTRACTION, MOST_CONTRACTION))
        left = np.abs(step) * ratio / (1.0 - ratio)
    return np.where(np.isfinite(step) & np.isfinite(last), left, np.where(now == middle, 0.0, np.inf))


def left_under(way: Sequence[Any], contraction: float = CONTRACTION) -> Any:
    """How far a value still has to go whose steps lie under a curve that falls by `contraction` a cycle; any shape.

    One small step may be chance, as where a value swings about its end, and the next one then is no sign of a slow
    way. way : the last cycles, the last one last.
    """
    return _under_a_curve(np.abs(np.diff(way, axis=0)), contraction)


def _under_a_curve(steps: np.ndarray, contraction: float) -> Any:
    now = [step * contraction**cycles for cycles, step in enumerate(steps[::-1])]
    return np.max(now, axis=0) * contraction / (1.0 - contraction)


def work_left(history: Sequence[WatchedByCylinder]) -> Any:
    """How far torque may still be from where it would end, every cylinder's way added up. [N m]"""
    if len(history) < 2:
        return float("nan")
    work = np.diff([r.work for r in history[-1 - STEPS_TO_JUDGE :]], axis=0)
    return _under_a_curve(np.sum(np.abs(work), axis=-1) / (4.0 * np.pi), CONTRACTION)
