"""What the cycles of a speed say of rest: how far it is, whether it is reached, and whether it will ever be.

`within` is everywhere the share of itself that torque may still have to go.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import partial
from typing import Any, Protocol

import numpy as np

MIXTURE_PER_TORQUE = 2.0  # lambda is held to this many times the tolerance of torque
CREEPING = 0.25  # of the tolerance, that six cycles keep within where a cylinder misses
MEAN_OVER = 6  # cycles: a mean where it does not settle, a proof where they all agree
RESTLESS_OVER = 32  # cycles: where they change hardly less than as many before them did, no rest is ahead
HARDLY_LESS = 0.9
PERIODS = (2, 3)  # cycles of a turn; six are whole turns of both
COMES_BACK = 0.05  # of the tolerance: what creeps by more a cycle has a way to go
STRONG_AND_WEAK = 0.01  # of torque: what they differ by at least
SAME_IN_TURN = 0.05  # of what a cycle differs from the one before: what drifts or dies away differs by more

# Torque's relative error over what the state still has to go, as torque feels it, and over the last move of what is
# watched. Both by a study of 686 speeds of random sheets and of every part against thirty more cycles, where 1.1 and
# 0.77 left no speed by more than 0.9 of the tolerance; a fifth is put on top. Regression values of this code.
ERROR_PER_CHANGE = 1.3
ERROR_PER_MOVE = 0.9
AFTER_ONE_CYCLE = 2.0  # times that: waves of a start that was drawn, not run, are still in it
USUAL_CONTRACTION = 0.5  # share of its way that the state still has to go after one more cycle, while none is shown
LEAST_CONTRACTION, MOST_CONTRACTION = 0.3, 0.9  # what is believed of a shown one
MISFIRING_CONTRACTION = 0.8  # where a cylinder misses: torque then turns round late, as raw mixture fills the pipes
DEAD, DEAD_CONTRACTION = 0.5, 0.95  # share of its cycles below which a cylinder is dead: the pipes creep on for long
FIRES = 0.999  # share of cycles
NEVER_MISSES = 0.9999


def error_left(changes: Sequence[float], moved: float, firing: np.ndarray) -> float:
    """Relative error that torque may still have, from the cycles so far.

    Changes shrink by much the same share from cycle to cycle, so the last two tell how far the state still has
    to go; what torque, mixture and mass did in the last cycle tells it a second time.

    changes : sizes of the state's changes, as `state_change` weighs them.
    moved : share by which torque, mixture or mass moved over the last cycle, nan after a single one.
    firing : share of cycles that fire, by cylinder.
    """
    least = LEAST_CONTRACTION
    if np.any(firing < NEVER_MISSES):
        least = DEAD_CONTRACTION if np.any(firing < DEAD) else MISFIRING_CONTRACTION
    once = AFTER_ONE_CYCLE if len(changes) == 1 else 1.0
    return float(np.fmax(once * ERROR_PER_CHANGE * still_to_go(changes, least), ERROR_PER_MOVE * moved))


def still_to_go(changes: Sequence[float], least: float = LEAST_CONTRACTION) -> float:
    """How far a state has to go from the start of the last cycle, whose changes shrink by a share or `least`."""
    shown = changes[-1] / changes[-2] if len(changes) > 1 and changes[-2] > 0.0 else USUAL_CONTRACTION
    return changes[-1] / (1.0 - min(max(shown, least), max(least, MOST_CONTRACTION)))


def last_move(history: Sequence[Watched], small_torque: float) -> float:
    """Largest share by which torque, mass or, over twice the tolerance, mixture moved; nan after a single cycle."""
    if len(history) < 2:
        return math.nan
    before, last = history[-2:]
    torque = abs(last.torque - before.torque) / max(abs(last.torque), small_torque)
    mass = np.max(np.abs(last.trapped / before.trapped - 1.0))
    same = last.trapped_lambda == before.trapped_lambda  # also where both are infinite, without any fuel
    with np.errstate(invalid="ignore"):
        mixture = np.where(same, 0.0, np.abs(last.trapped_lambda - before.trapped_lambda)) / MIXTURE_PER_TORQUE
    return float(np.max([torque, mass, *mixture]))


class Watched(Protocol):
    """What must repeat itself: torque (...), and by cylinder (..., cylinders) all else."""

    torque: Any
    firing: np.ndarray
    trapped: np.ndarray
    trapped_lambda: np.ndarray


def steady(history: Sequence[Watched], within: float, small_torque: Any) -> Any:
    """True where torque, mass, mixture and firing have stayed in one place, within the tolerance, for six cycles.

    What goes to and fro by less than the tolerance stays there, however much its state still changes; what creeps on
    does not come back after one, two or three cycles. Where a cylinder misses, a quarter of the tolerance is asked.
    """
    if len(history) < MEAN_OVER:
        return False
    torque = np.array([r.torque for r in history[-MEAN_OVER:]])
    away = np.min([_step(torque, n) for n in (1, *PERIODS)], axis=0)
    stays = away <= COMES_BACK * within * np.maximum(np.abs(history[-1].torque), small_torque)
    return stays & _hold(history, within, small_torque, lambda values: np.ptp(values, axis=0))


def by_turns(history: Sequence[Watched], within: float, small_torque: Any) -> Any:
    """True where six cycles repeat in twos or threes what cycle by cycle does not repeat itself, as in `steady`.

    A strong cycle leaves other burned gas behind than a weak one does, and at small throttle openings it is enough
    for both to follow each other for good. Where they differ by less than a hundredth, cycles may still be mixed to
    the state between them.
    """
    if len(history) < MEAN_OVER:
        return False
    torque = np.array([r.torque for r in history[-MEAN_OVER:]])
    differ = _step(torque, 1)
    apart = differ >= STRONG_AND_WEAK * np.maximum(np.abs(history[-1].torque), small_torque)
    turns = [
        _hold(history, within, small_torque, partial(_step, cycles=n)) & (_step(torque, n) <= SAME_IN_TURN * differ)
        for n in PERIODS
    ]
    return apart & np.any(turns, axis=0)


def _step(values: np.ndarray, cycles: int) -> np.ndarray:
    """Largest difference between a cycle and the one so many cycles before it."""
    return np.max(np.abs(values[cycles:] - values[:-cycles]), axis=0)


def _hold(
    history: Sequence[Watched], within: float, small_torque: Any, spread: Callable[[np.ndarray], np.ndarray]
) -> Any:
    if len(history) < MEAN_OVER:
        return False
    tail, last = history[-MEAN_OVER:], history[-1]
    misses = np.any(np.asarray(last.firing) < NEVER_MISSES, axis=-1)
    share = within * np.where(misses, CREEPING, 1.0)
    with np.errstate(invalid="ignore"):  # infinite lambda, where no fuel comes, is not steady
        torque = spread(np.array([r.torque for r in tail]))
        mass = spread(np.array([r.trapped for r in tail])) <= within * last.trapped
        mixture = spread(np.array([r.trapped_lambda for r in tail])) <= MIXTURE_PER_TORQUE * within
        firing = spread(np.array([r.firing for r in tail])) <= within
    held = torque <= share * np.maximum(np.abs(last.torque), small_torque)
    return held & np.all(mass & mixture & firing, axis=-1)


def restless(changes: Sequence[float]) -> bool:
    """True where the state changes hardly less than it did, over so many cycles that no rest is ahead."""
    last, before = changes[-RESTLESS_OVER:], changes[-2 * RESTLESS_OVER : -RESTLESS_OVER]
    return len(before) == RESTLESS_OVER and float(np.mean(last)) >= HARDLY_LESS * float(np.mean(before))


def mean_torque(history: Sequence[Watched], cycles: int = MEAN_OVER) -> Any:
    """Torque over the last cycles; six are whole turns of two or three. [N m]"""
    return np.mean([r.torque for r in history[-cycles:]], axis=0)
