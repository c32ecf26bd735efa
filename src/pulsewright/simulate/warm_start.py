"""One setup taken through engine speeds or designs, each started from what has been learned so far."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from pulsewright.network.case import Case
from pulsewright.simulate.carried_state import (
    CarriedState,
    believable,
    carried_state,
    cell_map,
    clip,
    lay_state,
    plus,
    read_off,
    same_tables,
)
from pulsewright.simulate.settle import CONVERGED, Settled, Tolerance, settle

# Two speeds further apart than this share are no neighbours in the sense of a straight line between states:
# the echoes have moved by too much of their own length.
STRAIGHT_WITHIN = 0.065
FURTHEST = 1.5  # of the last step between speeds


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
        onto, here = cell_map(other, case), carried_state(case)
        if onto is None or not same_tables(here, rest.state):
            return None
        return Rest(rpm, read_off(here, rest.state, onto), rest.contraction)


class WarmStart:
    """What a run through neighbouring speeds of one setup has learned so far."""

    def __init__(self, path: Path | None = None) -> None:
        self._path = path
        self._rests: list[Rest] = []  # the last two, if they came to rest

    def settle(
        self, case: Case, rpm: float, within: Tolerance | None = None, stopped: Callable[[], bool] | None = None
    ) -> Settled:
        """Settle `case` at a speed [rpm] from the best start there is, else from what is in its pipes."""
        start = self._path.start(case, rpm) if self._path else None
        start = start or self._ahead(rpm)
        if start is not None:
            lay_state(case, start.state)
        result = settle(case, rpm, within, stopped, start.contraction if start else None)
        self._learn(case, rpm, result)
        return result

    def _learn(self, case: Case, rpm: float, result: Settled) -> None:
        if result.outcome != CONVERGED:
            self._rests = []  # beyond a speed that did not come to rest the engine may run in another way
            if self._path:
                self._path.forget(rpm)
            return
        rest = Rest(rpm, carried_state(case), result.contraction)
        self._rests = [*self._rests[-1:], rest]
        if self._path:
            self._path.keep(case, rest)

    def _ahead(self, rpm: float) -> Rest | None:
        """The last speed's rest, continued in a straight line over the time of a turn where two lie close."""
        if not self._rests:
            return None
        last = self._rests[-1]
        if len(self._rests) < 2:
            return last
        before = self._rests[0]
        share = (1.0 / rpm - 1.0 / last.rpm) / (1.0 / last.rpm - 1.0 / before.rpm)
        if not 0.0 < share <= FURTHEST or abs(math.log(rpm / last.rpm)) > STRAIGHT_WITHIN:
            return last
        state = plus(last.state, share, last.state, before.state)
        if not believable(state, last.state):
            return last
        clip(state)
        return Rest(rpm, state, last.contraction)
