"""Many designs at many speeds until each repeats itself, all at once on the card."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from pulsewright.gpu.at_rest import FEWEST, arrived, work_left
from pulsewright.gpu.batch import Batch, Job
from pulsewright.gpu.start_order import ALONE, StartOrder, all_at_once, by_neighbours, usable
from pulsewright.network.case import Case
from pulsewright.simulate.cycle import friction_share, friction_torque, indicated_torque, trapped_lambda
from pulsewright.simulate.outcome import BY_TURNS, CONVERGED, CYCLE_LIMIT, FAILED, outcome_at_no_rest, outcome_at_rest
from pulsewright.simulate.rest import MEAN_OVER, by_turns, mean_torque
from pulsewright.simulate.settle import Tolerance, small_torque_of


@dataclass(slots=True)
class SettledBatch:
    """How the jobs of a batch ended. Arrays run over the jobs; what is in the pipes stays in `batch`."""

    batch: Batch
    torque: np.ndarray  # [N m] of the last cycle, its mean where it does not settle, nan where it failed
    torque_left: np.ndarray  # [N m] how far it may still be from where it would end, estimated
    cycles: np.ndarray
    outcome: list[str]


@dataclass(slots=True)
class Watch:
    """One cycle of the jobs that still run, as `gpu.at_rest` looks at it."""

    torque: np.ndarray  # (jobs,)
    work: np.ndarray  # (jobs, cylinders), as all that follow
    firing: np.ndarray
    starting: np.ndarray  # above zero: nothing is told of firing yet
    trapped: np.ndarray
    trapped_lambda: np.ndarray

    def of(self, kept: np.ndarray) -> Watch:
        """The same of some of the jobs."""
        return Watch(*(getattr(self, name)[kept] for name in Watch.__slots__))


@dataclass(slots=True)
class Group:
    """The jobs of engines with equally many cylinders that still run, and their last cycles; rows go with the jobs."""

    rows: np.ndarray  # numbers of the jobs
    cylinders: int
    friction: np.ndarray  # as `friction_share`
    small: np.ndarray  # [N m] torque below which errors are held against this
    history: list[Watch]
    pipe_fuel: list[np.ndarray]  # (jobs, cells) mean share of fuel in the gas, burned or not, of as many cycles

    def keep(self, kept: np.ndarray) -> None:
        """Let go of all jobs but these."""
        if not kept.all():
            self.rows, self.friction, self.small = self.rows[kept], self.friction[kept], self.small[kept]
            self.history = [watch.of(kept) for watch in self.history]
            self.pipe_fuel = [fuel[kept] for fuel in self.pipe_fuel]


def settle_many(
    cases: Sequence[Case],
    jobs: Sequence[Job],
    within: Tolerance | None = None,
    stopped: Callable[[], bool] | None = None,
) -> SettledBatch:
    """Run every job until it repeats itself, from the state that its design's case holds.

    Cycles follow each other as they come, without the mixing of `simulate`. Where the jobs fill the card, one speed
    of four starts so and the others are drawn through neighbours that have come to rest; a few start all at once.

    cases : designs of one capacity class (equal `cells` dtype); they are read, never changed.
    `stopped` is asked before every cycle and ends the run with KeyboardInterrupt when it says True.

    Raises MissingToolError without a card or its package, LimitError where a case does not fit the card.
    """
    within = within or Tolerance()
    batch = Batch(cases, jobs)
    speeds = np.array([job.rpm for job in jobs])
    slowest_first = np.argsort(speeds, kind="stable")
    unknown = np.full(len(jobs), np.nan)
    result = SettledBatch(batch, unknown, unknown.copy(), np.zeros(len(jobs), dtype=int), [""] * len(jobs))
    order = by_neighbours(jobs) if len(jobs) > ALONE else all_at_once(jobs)
    groups: list[Group] = []
    waiting, running = np.ones(len(jobs), dtype=bool), np.zeros(len(jobs), dtype=bool)
    while running.any() or waiting.any():
        if stopped is not None and stopped():
            raise KeyboardInterrupt
        fresh = order.ready(waiting, ~waiting & ~running)
        _lay_starts(result, order, fresh)
        waiting[fresh], running[fresh] = False, True
        groups += _groups(batch, fresh)
        batch.run_cycle(slowest_first[running[slowest_first]])
        result.cycles[running] += 1
        for group in groups:
            _watch(group, batch, 120.0 / speeds[group.rows])
            ended = _end(result, group, within)
            running[group.rows[ended]] = False
            group.keep(~ended)
        groups = [group for group in groups if group.rows.size]
    return result


def _lay_starts(result: SettledBatch, order: StartOrder, fresh: np.ndarray) -> None:
    """Lay the starts of jobs that are drawn through others."""
    if not np.any(order.sources[fresh] >= 0):
        return
    sources, weights = order.sources[fresh], order.weights[fresh]
    at_rest = np.array([outcome == CONVERGED for outcome in result.outcome])
    for k in np.flatnonzero(~np.all(at_rest[sources] | (sources < 0), axis=1)):
        sources[k], weights[k] = usable(order, int(fresh[k]), result.batch.jobs, result.outcome)
    drawn = sources[:, 0] >= 0
    sources = np.where(sources >= 0, sources, sources[:, :1])
    if drawn.any():
        result.batch.draw(fresh[drawn], sources[drawn], weights[drawn])


def _groups(batch: Batch, fresh: np.ndarray) -> list[Group]:
    designs = batch.design_of[fresh]
    cylinders = np.array([case.arrays["cylinders"].size for case in batch.cases])[designs]
    friction = np.array([friction_share(case) for case in batch.cases])[designs]
    small = np.array([small_torque_of(case.setup) for case in batch.cases])[designs]
    alike = [np.flatnonzero(cylinders == count) for count in np.unique(cylinders)]
    return [Group(fresh[k], int(cylinders[k[0]]), friction[k], small[k], [], []) for k in alike]


def _watch(group: Group, batch: Batch, seconds: np.ndarray) -> None:
    """Add the cycle just run to the last ones of a group. seconds : that it took, by job."""
    seen = batch.watched(group.rows)
    y = seen["cylinders"][:, : group.cylinders]
    torque = indicated_torque(y) - friction_torque(y, group.friction)
    torque[seen["run"]["failed"][:, 0] > 0] = np.nan
    watch = Watch(
        torque, y["work"].copy(), y["complete"].copy(), y["starting"].copy(), y["trapped"].copy(), trapped_lambda(y)
    )
    group.history = [*group.history, watch][-MEAN_OVER:]
    group.pipe_fuel = [*group.pipe_fuel, seen["mean_fuel"] / seconds[:, None]][-FEWEST:]


def _end(result: SettledBatch, group: Group, within: Tolerance) -> np.ndarray:
    """Note how jobs of a group end: failed, at rest, by turns or at the cycle limit; True for each of them. (jobs,)"""
    history, rows = group.history, group.rows
    last = history[-1]
    lost = ~np.isfinite(last.torque)
    at_rest = ~lost & ~np.any(last.starting, axis=-1) & arrived(history, group.pipe_fuel, within, group.small)
    turning = ~lost & ~at_rest & by_turns(history, within.torque, group.small)
    tired = ~lost & ~at_rest & ~turning & (result.cycles[rows] >= within.most_cycles)
    left, mean = np.broadcast_to(work_left(history), last.torque.shape), mean_torque(history)
    for k in np.flatnonzero(lost):
        result.outcome[rows[k]] = FAILED
    for k in np.flatnonzero(at_rest):
        result.torque[rows[k]], result.torque_left[rows[k]] = last.torque[k], left[k]
        result.outcome[rows[k]] = outcome_at_rest(last.firing[k])
    for k in np.flatnonzero(turning):
        result.torque[rows[k]] = mean[k]
        result.torque_left[rows[k]] = within.torque * max(abs(mean[k]), group.small[k])
        result.outcome[rows[k]] = outcome_at_no_rest(last.firing[k], BY_TURNS)
    for k in np.flatnonzero(tired):
        result.torque[rows[k]], result.torque_left[rows[k]] = mean[k], left[k]
        result.outcome[rows[k]] = outcome_at_no_rest(last.firing[k], CYCLE_LIMIT)
    return lost | at_rest | turning | tired
