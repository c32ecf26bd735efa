"""A setup over many engine speeds, on all cores, each speed started from its neighbour."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from threading import Event

import numpy as np

from pulsewright.bench.exhaust import Crossover, End, ExhaustValve, Piece, Pipe
from pulsewright.bench.setup import Setup
from pulsewright.network.case import Case, build_case
from pulsewright.network.options import NON_REFLECTING, Options
from pulsewright.simulate.outcome import FAILED
from pulsewright.simulate.settle import Tolerance
from pulsewright.simulate.speed_point import SpeedPoint, speed_point
from pulsewright.simulate.warm_start import Path, WarmStart, passes

Progress = Callable[[int, int, float], None]  # speeds done, speeds in all, last speed
Mixture = Callable[[float], float]  # lambda at a speed
Seen = Callable[[Case, float], None]  # a case that has just settled, and its speed


def sweep(
    setup: Setup,
    speeds: Sequence[float],
    options: Options | None = None,
    *,
    mixture: Mixture | None = None,
    within: Tolerance | None = None,
    progress: Progress | None = None,
    threads: int | None = None,
    path: Path | None = None,
    seen: Seen | None = None,
) -> list[SpeedPoint]:
    """Results at every speed [rpm], in the order given.

    mixture : lambda of a premixed charge by speed, in place of the carburettor.
    path : what earlier designs have left there is the start of this one, and it takes in how this one ends.
    seen : is shown every case as it has settled at a speed, on the thread that settled it, and leaves it as it is.
    Where a speed starts from depends on `path` and on how the speeds are shared out among the threads; where it
    ends does not, within the tolerance. A KeyboardInterrupt stops all threads before their next cycle.
    """
    options = options or Options()
    if mixture is not None:
        options = replace(options, mixture=mixture(float(speeds[0])))
    pressures = base_pressures(setup, speeds, options, mixture, within, threads)
    stop = Event()
    done = 0

    def run_chunk(chunk: list[float]) -> list[SpeedPoint]:
        nonlocal done
        points = []
        case = None
        warm = WarmStart(path)
        for rpm in passes(chunk):
            if case is None or moves_with_speed(setup):
                case = build_case(setup, options, rpm)
            if mixture is not None:
                impose_mixture(case, mixture(rpm))
            if pressures is not None:
                set_base_pressures(case, pressures[rpm])
            result = warm.settle(case, rpm, within, stop.is_set)
            points.append(speed_point(case, rpm, result))
            if seen is not None and result.outcome != FAILED:
                seen(case, rpm)
            if result.outcome == FAILED:
                case = None  # what is left in its pipes would spoil the next speed
            done += 1
            if progress is not None:
                progress(done, len(speeds), rpm)
        return points

    chunks = split_by_cost([float(s) for s in speeds], threads or usable_cores())
    with ThreadPoolExecutor(len(chunks)) as pool:
        futures = [pool.submit(run_chunk, chunk) for chunk in chunks]
        try:
            points = [p for future in futures for p in future.result()]
        except BaseException:
            stop.set()
            raise
    by_speed = {p.rpm: p for p in points}
    return [by_speed[float(s)] for s in speeds]


def usable_cores() -> int:
    """Cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def split_by_cost(speeds: list[float], parts: int) -> list[list[float]]:
    """Runs of neighbouring speeds of about equal cost: a cycle takes as many steps as it takes time."""
    ordered = sorted(set(speeds), reverse=True)
    cost = np.cumsum([1.0 / s for s in ordered])
    parts = max(1, min(parts, len(ordered)))
    owner = np.minimum((cost - 0.5 / np.array(ordered)) / cost[-1] * parts, parts - 1e-9).astype(int)
    chunks = [[s for s, o in zip(ordered, owner, strict=True) if o == n] for n in range(parts)]
    return [chunk for chunk in chunks if chunk]


def moves_with_speed(setup: Setup) -> bool:
    """True where a part of the exhaust is set by engine speed."""
    routes = (*setup.exhaust.route.values(), *setup.exhaust.after.values())
    return any(isinstance(p, ExhaustValve) for route in routes for p in route)


def impose_mixture(case: Case, lambda_: float) -> None:
    """Let the air in front of every mouth carry fuel for this lambda."""
    fuel = 1.0 / (1.0 + lambda_ * case.charge.air_fuel_ratio)
    joints = case.arrays["joints"][case.intake.mouth_joints]
    case.arrays["reservoirs"]["far_yv"][joints["b_reservoir"]] = fuel


def set_base_pressures(case: Case, pressures: dict[int, float]) -> None:
    """Mean pressure [Pa] by cylinder behind the non-reflecting ends of a case."""
    for number, joint in zip(case.exhaust.header, case.exhaust.mouth_joints, strict=False):
        case.arrays["joints"]["target"][joint] = pressures[number]


def base_pressures(
    setup: Setup,
    speeds: Sequence[float],
    options: Options,
    mixture: Mixture | None = None,
    within: Tolerance | None = None,
    threads: int | None = None,
) -> dict[float, dict[int, float]] | None:
    """Mean pressure where the echo is cut off, from the engine as built; None where it is the outside's."""
    plain = all(isinstance(_first_obstacle(route), End) for route in setup.exhaust.route.values())
    if options.exhaust_ends != NON_REFLECTING or options.lossless or plain or options.back_pressure:
        return None
    base = sweep(
        setup, speeds, replace(options, exhaust_ends="as built"), mixture=mixture, within=within, threads=threads
    )
    return {p.rpm: p.header_pressure for p in base}


def _first_obstacle(route: Sequence[Piece]) -> Piece:
    return next(p for p in route if not isinstance(p, Pipe | Crossover))
