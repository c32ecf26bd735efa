"""A machine before any fit: the sheet's, and others as likely, each with jets that give the measured mixture.

What a carburettor makes of its jets strays by a smooth curve; where the lambda can be trusted, that curve is read
off it. Everything else is as the priors have it, so the draws differ widely.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from pulsewright.bench.setup import Setup
from pulsewright.fit.machine import FIT_LEVEL, Draw, FittedMachine
from pulsewright.fit.unknowns import TRIM_NAMES, calibration_of, prior_draws, values_of
from pulsewright.network.calibration import NOMINAL, Calibration, trim_of
from pulsewright.network.options import Options

ROUNDS = 3
TRIM_RANGE = (0.5, 1.8)
LAMBDA_EDGE = (0.7, 1.4)  # the most that one round moves a trim
TRIM_SPEEDS = 9

Stopped = Callable[[], bool]


def unfitted_machine(
    setup: Setup,
    speeds: tuple[float, float],
    mixture: Callable[[float], float] | None,
    *,
    draws: int = 6,
    seed: int = 1,
    stopped: Stopped | None = None,
) -> FittedMachine:
    """The nominal machine first, then draws from the priors; `speeds` [rpm] are the ends of the pulls.

    mixture : measured lambda by speed, None where there is none that can be trusted.
    """
    others = [_calibration(z, speeds) for z in prior_draws(draws - 1, seed)]
    machine = FittedMachine(draws=tuple(Draw(calibration=c) for c in (NOMINAL, *others)), fitted=False)
    if mixture is None:
        return machine
    at = np.linspace(*speeds, TRIM_SPEEDS)
    wanted = np.array([mixture(float(rpm)) for rpm in at])
    trims = np.ones((len(machine.draws), at.size))
    for _ in range(ROUNDS):
        trimmed = _trimmed(machine, at, trims)
        curves = trimmed.sweep(setup, list(at), Options(grid=FIT_LEVEL.grid), stopped)
        read = np.where(np.isfinite(curves.lambda_sensor), curves.lambda_sensor, curves.lambda_trapped)
        step = np.where(np.isfinite(read), read / wanted, 1.0)
        trims = np.clip(trims * np.clip(step, *LAMBDA_EDGE), *TRIM_RANGE)
    return _trimmed(machine, at, trims)


def _calibration(z: Sequence[float], speeds: tuple[float, float]) -> Calibration:
    values = {name: v for name, v in values_of(z).items() if name not in TRIM_NAMES}
    return calibration_of(values, speeds)


def _trimmed(machine: FittedMachine, at: np.ndarray, trims: np.ndarray) -> FittedMachine:
    draws = [
        replace(d, calibration=replace(d.calibration, mixture_trim=trim_of(list(at), list(row))))
        for d, row in zip(machine.draws, trims, strict=True)
    ]
    return replace(machine, draws=tuple(draws))
