"""Cycle after cycle until the engine repeats itself."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from pulsewright.bench.setup import Setup
from pulsewright.bench.throttle import throttle_of
from pulsewright.network.case import Case
from pulsewright.simulate.carried_state import carried_state
from pulsewright.simulate.cycle import CycleResult, run_cycle, set_speed
from pulsewright.simulate.growth import Trail
from pulsewright.simulate.mixing import Mixing
from pulsewright.simulate.outcome import (
    BY_TURNS,
    CYCLE_LIMIT,
    FAILED,
    NO_TWO_ALIKE,
    outcome_at_no_rest,
    outcome_at_rest,
)
from pulsewright.simulate.rest import (
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

TORQUE_WITHIN = 1e-3  # relative
SMALL_PRESSURE = 1e5  # [Pa] mean effective pressure that counts as small torque of an engine of known size
FEWEST_CYCLES = 2
SMALL_OPENING, MORE_CYCLES = 0.25, 4
# Growth of a disturbance over a cycle. Of 1,206 states of random sheets that mixed cycles found, 21 were left within
# fifty cycles as they came: all of them looked like growing by 1.28 or more before, 90 of the others by MAY_GROW; over
# five cycles as they came they grew by 1.16 or more, five of the others by GROWS. Regression values.
MAY_GROW, GROWS = 0.85, 1.02
LATELY = 8  # cycles: what the whole way hides, they may show
PROOF = 5  # cycles as they come that show it
# Openings of a throttle at which strong and weak cycles often follow each other by turns: seen up to 0.11 on the
# example, none at 0.12 and 0.14. Cycles as they come find turns sooner than mixed ones, and rest as soon, unless a box
# fills slowly. Regression values.
TURNS_BELOW = 0.13


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerance:
    """When a cycle counts as the same as the last one, and how many are allowed.

    torque : share of itself that torque may still have to go. Lambda is then within twice this number, trapped
        mass within this share.
    most_cycles : on the way to rest.
    run_on : cycles as they come that may follow where that is not enough, or where rest may not hold. Without them
        both are told as they look.
    mixed : whether the next cycle may start from a mixture of the last ones.
    """

    torque: float = TORQUE_WITHIN
    most_cycles: int = 24
    run_on: int = 2 * RESTLESS_OVER
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


def settle(
    case: Case,
    rpm: float,
    within: Tolerance | None = None,
    stopped: Callable[[], bool] | None = None,
    fewest: int = FEWEST_CYCLES,
) -> Settled:
    """Run a case at one speed until it repeats itself; starts from whatever is in its pipes.

    Mixed cycles may find a state that repeats itself and that an engine would leave again. Where they look like
    that, the engine runs on from there as its cycles come, and what becomes of it is told.

    `stopped` is asked before every cycle and ends the run with KeyboardInterrupt when it says True.
    fewest : cycles that are run in any case.
    """
    set_speed(case, rpm)
    run = _Run(case, within or Tolerance())
    while run.may_go_on():
        if stopped is not None and stopped():
            raise KeyboardInterrupt
        last = run.cycle()
        if last.failed:
            return Settled(last, float("nan"), run.cycles, FAILED)
        if run.cycles >= fewest and run.repeats():
            if run.holds():
                return run.at_rest()
            run.go_on_as_they_come()
        elif by_turns(run.history, run.within, run.small):
            return run.no_rest(MEAN_OVER, BY_TURNS, run.within)
        elif restless(run.changes):
            return run.no_rest(RESTLESS_OVER, NO_TWO_ALIKE, run.left)
        run.follow()
    return run.at_the_limit()


def may_last(trail: Trail) -> bool:
    """Whether mixed cycles show no growth of a disturbance: neither all of them, nor the last, whose map it is."""
    return max(trail.growth(), trail.growth(LATELY)) <= MAY_GROW


class _Run:
    """The cycles of a case at one speed: mixed on the way to rest, as they come where rest may not hold."""

    def __init__(self, case: Case, within: Tolerance) -> None:
        self.within, self.small = within.torque, small_torque_of(case.setup)
        self.history: list[CycleResult] = []
        self.changes: list[float] = []
        self.left = float("nan")  # share of torque, estimated
        self.cycles = 0
        self._most, self._run_on = within.most_cycles, within.run_on
        self._case, self._scale = case, ChangeScale(case)
        self._mixing = Mixing() if within.mixed else None
        self._suspected = False  # whether rest was found by mixing, and may not hold
        self._trail = Trail()
        self._first = self._start = self._end = carried_state(case)
        self._change = np.zeros(0)

    def may_go_on(self) -> bool:
        """Whether more cycles are allowed."""
        if self.cycles >= self._most and self._mixing and self._run_on:
            self.go_on_as_they_come()
        return self.cycles < self._most

    def cycle(self) -> CycleResult:
        """One cycle more."""
        last = run_cycle(self._case)
        self.cycles += 1
        self.history.append(last)
        if not last.failed:
            self._end = carried_state(self._case)
            self._change = self._scale.change(self._start, self._end)
            self._trail.add(self._scale.change(self._first, self._start), self._change)
            self.changes.append(float(np.linalg.norm(self._change)))
            self.left = error_left(self.changes, last_move(self.history, self.small), last.firing)
        return last

    def follow(self) -> None:
        """Lay the start of the next cycle."""
        self._start = self._mixing.follow(self._case, self._end, self._change) if self._mixing else self._end

    def repeats(self) -> bool:
        """Whether the last cycle is like the one before, within the tolerance."""
        if np.any(self._case.arrays["cylinders"]["starting"]):
            return False
        return self.left <= self.within or steady(self.history, self.within, self.small)

    def holds(self) -> bool:
        """Whether cycles as they come would stay in a state that repeats itself."""
        if not self._run_on:
            return True
        if self._mixing:
            return may_last(self._trail)
        if not self._suspected:
            return True
        return len(self.history) > PROOF and self._trail.growth(PROOF) <= GROWS

    def go_on_as_they_come(self) -> None:
        """Mix no more, and let only what comes now be a sign of rest or of none."""
        if self._mixing:
            self._mixing, self._suspected = None, True
            self.history, self.changes = self.history[-1:], self.changes[-1:]
            self._most = self.cycles + self._run_on

    def at_rest(self) -> Settled:
        """What is told of a state that repeats itself."""
        last = self.history[-1]
        outcome = outcome_at_rest(self._case.arrays["cylinders"]["complete"])
        error = min(self.left, self.within) * max(abs(last.torque), self.small)
        return Settled(last, last.torque, self.cycles, outcome, error)

    def no_rest(self, over: int, told: str, left: float) -> Settled:
        """What is told, with the mean `over` so many cycles, where there is no rest. left : as a share of torque."""
        last, mean = self.history[-1], float(mean_torque(self.history, over))
        error = left * max(abs(mean), self.small)
        return Settled(last, mean, self.cycles, outcome_at_no_rest(last.firing, told), error)

    def at_the_limit(self) -> Settled:
        """What is told when no more cycles are allowed."""
        if self.repeats():  # what grows, grows so slowly that nothing is seen of it
            return self.at_rest()
        return self.no_rest(MEAN_OVER, CYCLE_LIMIT, self.left)
