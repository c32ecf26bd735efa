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
from pulsewright.simulate.settle import CONVERGED, FAILED, MOST_CONTRACTION, Settled, Tolerance, settle

# Logarithm of the ratio of two speeds beyond which nothing lies between them: the echoes have moved too far.
BETWEEN_WITHIN = 0.35
ON_A_SIDE = 2  # speeds on either side that a start is drawn through


@dataclass(frozen=True, slots=True)
class Rest:
    """Where a speed came to rest, and how fast it did."""

    rpm: float
    state: CarriedState
    contraction: float | None


class Path:
    """Where the speeds of the last design came to rest, for a setup that is changed little by little.

    A slider moves one size at a time: the next design then starts at every speed from the last one's state. A
    design with other ducts, rooms or joints starts afresh. One sweep at a time may use it, on any threads.
    """

    def __init__(self) -> None:
        self._rests: dict[float, tuple[Case, Rest]] = {}
        self._map: tuple[Case, Case, CellMap | None] | None = None  # the last one, good for all speeds of two cases

    def keep(self, case: Case, rest: Rest) -> None:
        """Take in where `case` came to rest."""
        self._rests[rest.rpm] = (case, rest)

    def forget(self, rpm: float) -> None:
        """A speed that does not come to rest is no start for the next design."""
        self._rests.pop(rpm, None)

    def start(self, case: Case, rpm: float) -> Rest | None:
        """The last design's rest at a speed, on the cells of `case`; None where there is none that fits."""
        if rpm not in self._rests:
            return None
        other, rest = self._rests[rpm]
        onto, here = self._mapped(other, case), carried_state(case)
        if onto is None or not same_tables(here, rest.state):
            return None
        return Rest(rpm, read_off(here, rest.state, onto), rest.contraction)

    def _mapped(self, other: Case, case: Case) -> CellMap | None:
        last = self._map
        if last is None or last[0] is not other or last[1] is not case:
            last = self._map = (other, case, cell_map(other, case))
        return last[2]


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
        result = settle(case, rpm, within, stopped, start.contraction if start else None)
        self._learn(case, rpm, result)
        return result

    def _learn(self, case: Case, rpm: float, result: Settled) -> None:
        if result.outcome == CONVERGED:
            self._rests[rpm] = Rest(rpm, carried_state(case), result.contraction)
            if self._path:
                self._path.keep(case, self._rests[rpm])
            return
        if result.outcome != FAILED:
            self._restless[rpm] = Rest(rpm, carried_state(case), None)
        if self._path:
            self._path.forget(rpm)

    def _between(self, rpm: float) -> Rest | None:
        """From the rests on both sides, or the nearest one where the speed lies outside them or too far from both."""
        below = sorted((r for r in self._rests if r < rpm), reverse=True)[:ON_A_SIDE]
        above = sorted(r for r in self._rests if r > rpm)[:ON_A_SIDE]
        beyond = min((r for r in self._restless if r > rpm), default=math.inf)
        if beyond < min(above, default=math.inf):  # the engine may run in two ways here: the one it has from above
            return self._restless[beyond]
        if not below and not above:
            return None
        nearest = self._rests[min((*below[:1], *above[:1]), key=lambda r: abs(math.log(r / rpm)))]
        if not below or not above or math.log(above[0] / below[0]) > BETWEEN_WITHIN:
            return nearest
        each_side = min(len(below), len(above))
        around = [self._rests[r] for r in (*below[:each_side], *above[:each_side])]
        state = nearest.state
        for rest, weight in zip(around, weights([1.0 / r.rpm for r in around], 1.0 / rpm), strict=True):
            state = plus(state, weight, rest.state, nearest.state)
        if not believable(state, nearest.state):
            return nearest
        clip(state)
        return Rest(rpm, state, max((r.contraction or MOST_CONTRACTION) for r in around))


def weights(known: Sequence[float], at: float) -> list[float]:
    """Of the values at `known` places in the value of the polynomial through all of them `at` another (Lagrange)."""
    return [math.prod((at - b) / (a - b) for b in known if b != a) for a in known]


def passes(speeds: Sequence[float]) -> list[float]:
    """Neighbouring speeds in the order to settle them: every other one first, then those that lie between."""
    first = [*speeds[::2], *([speeds[-1]] if len(speeds) % 2 == 0 else [])]
    return [*first, *(s for s in speeds if s not in first)]
