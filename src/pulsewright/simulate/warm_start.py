"""One setup taken through engine speeds or designs, each started from what has been learned so far."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from pulsewright.network.case import Case
from pulsewright.simulate.carried_state import (
    CarriedState,
    CellMap,
    believable,
    carried_state,
    cell_map,
    clip,
    lay_state,
    plus,
    read_off,
    same_tables,
)
from pulsewright.simulate.design_step import how_far, numbers_of
from pulsewright.simulate.outcome import CONVERGED, FAILED
from pulsewright.simulate.settle import FEWEST_CYCLES, Settled, Tolerance, settle

# Logarithm of the ratio of two speeds beyond which nothing lies between them: the echoes have moved too far.
BETWEEN_WITHIN = 0.35
ON_A_SIDE = 2  # speeds on either side that a start is drawn through
DESIGNS_KEPT = 2
MAPS_KEPT = 2 * DESIGNS_KEPT  # two threads may lay their own cases of the same design


@dataclass(frozen=True, slots=True)
class Rest:
    """Where a speed came to rest."""

    rpm: float
    state: CarriedState


@dataclass(frozen=True, slots=True)
class Start:
    """A state to start a speed from, and the cycles that have to be run from there in any case."""

    state: CarriedState
    fewest: int = FEWEST_CYCLES


class Path:
    """Where the speeds of the last two designs came to rest, for a setup that is changed little by little.

    A slider moves one size at a time: the next design then starts at every speed from the last one's state, and
    where it goes on along the way from the last but one, from as much further along it. A design with other
    ducts, rooms or joints starts afresh. One sweep at a time may use it, on any threads.
    """

    def __init__(self) -> None:
        self._rests: dict[float, list[tuple[Case, CarriedState]]] = {}  # the last two, the last one first
        self._maps: list[tuple[Case, Case, CellMap | None]] = []  # each good for all speeds of two cases
        self._shares: list[tuple[Case, Case, Case, float | None]] = []  # and each of these for those of three

    def keep(self, case: Case, rest: Rest) -> None:
        """Take in where `case` came to rest."""
        before = [pair for pair in self._rests.get(rest.rpm, []) if pair[0] is not case]
        self._rests[rest.rpm] = [(case, rest.state), *before][:DESIGNS_KEPT]

    def forget(self, rpm: float) -> None:
        """A speed that does not come to rest is no start for the next design."""
        self._rests.pop(rpm, None)

    def start(self, case: Case, rpm: float) -> Start | None:
        """From the last designs' rests at a speed, on the cells of `case`; None where there is none that fits."""
        known = self._rests.get(rpm)
        if not known:
            return None
        here = carried_state(case)
        last = self._read(here, case, *known[0])
        if last is None or len(known) < DESIGNS_KEPT:
            return None if last is None else Start(last)
        share = self._share(known[1][0], known[0][0], case)
        before = None if share is None else self._read(here, case, *known[1])
        if share is None or before is None:
            return Start(last)
        on = plus(last, share, last, before)
        if not believable(on, last):
            return Start(last)
        clip(on)
        return Start(on, fewest=1)

    def _read(self, here: CarriedState, case: Case, other: Case, state: CarriedState) -> CarriedState | None:
        onto = self._mapped(other, case)
        return None if onto is None or not same_tables(here, state) else read_off(here, state, onto)

    def _share(self, before: Case, last: Case, now: Case) -> float | None:
        for a, b, c, share in self._shares:
            if a is before and b is last and c is now:
                return share
        alike = before.options == last.options == now.options
        share = how_far(*(numbers_of(case.setup) for case in (before, last, now))) if alike else None
        self._shares = [(before, last, now, share), *self._shares][:MAPS_KEPT]
        return share

    def _mapped(self, other: Case, case: Case) -> CellMap | None:
        for theirs, ours, onto in self._maps:
            if theirs is other and ours is case:
                return onto
        onto = cell_map(other, case)
        self._maps = [(other, case, onto), *self._maps][:MAPS_KEPT]
        return onto


class WarmStart:
    """What a run through neighbouring speeds of one setup has learned so far."""

    def __init__(self, path: Path | None = None) -> None:
        self._path = path
        self._rests: dict[float, Rest] = {}
        self._restless: dict[float, Rest] = {}  # where it stopped at speeds that did not come to rest

    def settle(
        self, case: Case, rpm: float, within: Tolerance | None = None, stopped: Callable[[], bool] | None = None
    ) -> Settled:
        """Settle `case` at a speed [rpm] from the best start there is, else from what is in its pipes."""
        start = self._path.start(case, rpm) if self._path else None
        start = start or self._between(rpm)
        if start is not None:
            lay_state(case, start.state)
        result = settle(case, rpm, within, stopped, start.fewest if start else FEWEST_CYCLES)
        self._learn(case, rpm, result)
        return result

    def _learn(self, case: Case, rpm: float, result: Settled) -> None:
        if result.outcome == CONVERGED:
            self._rests[rpm] = Rest(rpm, carried_state(case))
            if self._path:
                self._path.keep(case, self._rests[rpm])
            return
        if result.outcome != FAILED:
            self._restless[rpm] = Rest(rpm, carried_state(case))
        if self._path:
            self._path.forget(rpm)

    def _between(self, rpm: float) -> Start | None:
        """From the rests on both sides, or the nearest one where the speed lies outside them or too far from both."""
        below = sorted((r for r in self._rests if r < rpm), reverse=True)[:ON_A_SIDE]
        above = sorted(r for r in self._rests if r > rpm)[:ON_A_SIDE]
        beyond = min((r for r in self._restless if r > rpm), default=math.inf)
        if beyond < min(above, default=math.inf):  # the engine may run in two ways here: the one it has from above
            return Start(self._restless[beyond].state)
        if not below and not above:
            return None
        nearest = self._rests[min((*below[:1], *above[:1]), key=lambda r: abs(math.log(r / rpm)))]
        if not below or not above or math.log(above[0] / below[0]) > BETWEEN_WITHIN:
            return Start(nearest.state)
        each_side = min(len(below), len(above))
        around = [self._rests[r] for r in (*below[:each_side], *above[:each_side])]
        state = nearest.state
        for rest, weight in zip(around, weights([1.0 / r.rpm for r in around], 1.0 / rpm), strict=True):
            state = plus(state, weight, rest.state, nearest.state)
        if not believable(state, nearest.state):
            return Start(nearest.state)
        clip(state)
        return Start(state)


def weights(known: Sequence[float], at: float) -> list[float]:
    """Of the values at `known` places in the value of the polynomial through all of them `at` another (Lagrange)."""
    return [math.prod((at - b) / (a - b) for b in known if b != a) for a in known]


def passes(speeds: Sequence[float]) -> list[float]:
    """Neighbouring speeds in the order to settle them: every other one first, then those that lie between."""
    first = [*speeds[::2], *([speeds[-1]] if len(speeds) % 2 == 0 else [])]
    return [*first, *(s for s in speeds if s not in first)]
