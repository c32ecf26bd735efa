"""Sheet to prediction in one call."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from pulsewright.bench.setup import Setup
from pulsewright.network.options import Options
from pulsewright.simulate.fidelity import FINAL, Level
from pulsewright.simulate.load_kernels import load_kernels
from pulsewright.simulate.model_assumptions import model_assumptions
from pulsewright.simulate.prediction import Prediction, gather
from pulsewright.simulate.settle import Tolerance, patient
from pulsewright.simulate.sweep import Mixture, Progress, sweep
from pulsewright.simulate.warm_start import Path


def predict(
    setup: Setup,
    speeds: Sequence[float],
    options: Options | None = None,
    *,
    mixture: Mixture | None = None,
    within: Tolerance | None = None,
    progress: Progress | None = None,
    threads: int | None = None,
    level: Level = FINAL,
    path: Path | None = None,
) -> Prediction:
    """Curves of a setup at engine speeds [rpm]; `mixture` imposes lambda by speed in place of the carburettor.

    level : how finely; its cells are that much longer than those of `options`, its tolerance holds where `within`
    says none. path : the states of earlier designs of a slider, see `sweep`.
    """
    options = options or Options()
    options = replace(options, grid=level.grid * options.grid)
    within = within or patient(level.within, setup)
    load_kernels(setup, options)
    begin = time.perf_counter()
    points = sweep(
        setup, speeds, options, mixture=mixture, within=within, progress=progress, threads=threads, path=path
    )
    return gather(
        points,
        level=level,
        wall_s=time.perf_counter() - begin,
        assumptions=[*setup.assumptions, *model_assumptions(setup, options)],
    )


def grid_change(
    setup: Setup, speeds: Sequence[float], options: Options | None = None, *, mixture: Mixture | None = None
) -> np.ndarray:
    """Relative change of torque when all cells are half as long. Shape of `speeds`."""
    options = options or Options()
    coarse = predict(setup, speeds, options, mixture=mixture)
    fine = predict(setup, speeds, replace(options, grid=0.5 * options.grid), mixture=mixture)
    return fine.torque_nm / coarse.torque_nm - 1.0
