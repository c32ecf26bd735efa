"""Many designs at many speeds until each repeats itself, all at once on the card."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from pulsewright.gpu.at_rest import arrived, work_left
from pulsewright.gpu.batch import Batch, Job
from pulsewright.network.case import Case
from pulsewright.simulate.cycle import friction_torque, indicated_torque, trapped_lambda
from pulsewright.simulate.rest import by_turns, mean_torque
from pulsewright.simulate.settle import (
    BY_TURNS,
    CYCLE_LIMIT,
    FAILED,
    Tolerance,
    outcome_at_no_rest,
    outcome_at_rest,
    small_torque_of,
)


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
    """One cycle of the jobs of one design, as `gpu.at_rest` looks at it."""

    torque: np.ndarray  # (jobs,)
    work: np.ndarray  # (jobs, cylinders), as all that follow
    firing: np.ndarray
    trapped: np.ndarray
    trapped_lambda: np.ndarray
    pipe_fuel: np.ndarray  # (jobs, cells) mean share of fuel in the gas, burned or not: what a sensor reads


def settle_many(
    cases: Sequence[Case],
    jobs: Sequence[Job],
    within: Tolerance | None = None,
    stopped: Callable[[], bool] | None = None,
) -> SettledBatch:
    """Run every job until it repeats itself, from the state that its design's case holds.

    Cycles follow each other as they come, without the mixing and the warm starts of `simulate`: all speeds run
    at once, and none has a neighbour to start from.

    cases : designs of one capacity class (equal `cells` dtype); they are read, never changed.
    `stopped` is asked before every cycle and ends the run with KeyboardInterrupt when it says True.

    Raises MissingToolError without a card or its package, LimitError where a case does not fit the card.
    """
    within = within or Tolerance()
    batch = Batch(cases, jobs)
    rows_of = [np.flatnonzero(batch.design_of == n) for n in range(len(cases))]
    slowest_first = np.argsort([job.rpm for job in jobs], kind="stable")
    unknown = np.full(len(jobs), np.nan)
    result = SettledBatch(batch, unknown, unknown.copy(), np.zeros(len(jobs), dtype=int), [""] * len(jobs))
    running = np.ones(len(jobs), dtype=bool)
    seconds = np.array([[120.0 / job.rpm] for job in jobs])
    history: list[list[Watch]] = [[] for _ in cases]
    for _ in range(within.most_cycles):
        if stopped is not None and stopped():
            raise KeyboardInterrupt
        batch.run_cycle(slowest_first[running[slowest_first]])
        result.cycles[running] += 1
        failed = batch.table("run")["failed"][:, 0] > 0
        cylinders = batch.table("cylinders")
        fuel = batch.means(np.arange(len(jobs)))["mean_fuel"].reshape(len(jobs), -1) / seconds
        for design, rows in enumerate(rows_of):
            if running[rows].any():
                watch = _watch(cases[design], cylinders[rows], fuel[rows])
                history[design].append(watch)
                _end(cases[design], result, running, rows, history[design], failed[rows], within)
        if not running.any():
            break
    for design, rows in enumerate(rows_of):
        if running[rows].any():
            _give_up(result, rows, running[rows], history[design])
    return result


def _watch(case: Case, padded: np.ndarray, fuel: np.ndarray) -> Watch:
    y = padded[:, : case.arrays["cylinders"].size]
    torque = indicated_torque(y) - friction_torque(case, y)
    return Watch(
        torque, y["work"].copy(), y["complete"].copy(), y["trapped"].copy(), trapped_lambda(case, y), fuel
    )  # fmt: skip


def _end(
    case: Case,
    result: SettledBatch,
    running: np.ndarray,
    rows: np.ndarray,
    history: list[Watch],
    failed: np.ndarray,
    within: Tolerance,
) -> None:
    """Take the jobs of one design out of the running that failed, repeat themselves or go on by turns."""
    last, small = history[-1], small_torque_of(case.setup)
    lost = running[rows] & (failed | ~np.isfinite(last.torque))
    at_rest = running[rows] & ~lost & arrived(history, within, small)
    turning = running[rows] & ~lost & ~at_rest & by_turns(history, within.torque, small)
    left, mean = work_left(history), mean_torque(history)
    for k in np.flatnonzero(lost):
        result.outcome[rows[k]] = FAILED
    for k in np.flatnonzero(at_rest):
        result.torque[rows[k]], result.torque_left[rows[k]] = last.torque[k], left[k]
        result.outcome[rows[k]] = outcome_at_rest(last.firing[k])
    for k in np.flatnonzero(turning):
        result.torque[rows[k]], result.torque_left[rows[k]] = mean[k], within.torque * max(abs(mean[k]), small)
        result.outcome[rows[k]] = outcome_at_no_rest(last.firing[k], BY_TURNS)
    running[rows[lost | at_rest | turning]] = False


def _give_up(result: SettledBatch, rows: np.ndarray, running: np.ndarray, history: list[Watch]) -> None:
    """The jobs of one design that are still running after the last cycle allowed."""
    mean = mean_torque(history)
    left = np.broadcast_to(work_left(history), mean.shape)
    for k in np.flatnonzero(running):
        result.torque[rows[k]], result.torque_left[rows[k]] = mean[k], left[k]
        result.outcome[rows[k]] = outcome_at_no_rest(history[-1].firing[k], CYCLE_LIMIT)
