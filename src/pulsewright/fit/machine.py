"""A machine as the fit knows it: a handful of equally likely calibrations, the best one first."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from pulsewright.bench.setup import Setup
from pulsewright.network.calibration import NOMINAL, Calibration
from pulsewright.network.options import Options
from pulsewright.simulate.settle import FAILED
from pulsewright.simulate.speed_point import SpeedPoint
from pulsewright.simulate.sweep import sweep, usable_cores


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """One likely machine.

    gain : dyno reading over torque at the crank. [-]
    lambda_bias : what the lambda sensor reads high. [-]
    torque_error : rows (rpm, factor): measured torque over what this calibration gives, where the model itself errs.
    """

    calibration: Calibration = NOMINAL
    gain: float = 1.0
    lambda_bias: float = 0.0
    torque_error: tuple[tuple[float, float], ...] = ()

    def error_at(self, speeds: np.ndarray) -> np.ndarray:
        """Factor of the model's own error at engine speeds. [rpm] -> [-]"""
        if not self.torque_error:
            return np.ones(len(speeds))
        at, factors = zip(*self.torque_error, strict=True)
        return np.interp(speeds, at, factors)


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineCurves:
    """Results of one setup on every draw; arrays are (draws, speeds)."""

    rpm: np.ndarray  # (speeds,)
    torque: np.ndarray  # [N m] at the crank, the model's own error taken out
    lambda_trapped: np.ndarray
    lambda_sensor: np.ndarray  # mean of the sensors; nan without one
    knock_margin: np.ndarray
    exhaust_temperature: np.ndarray  # [K]
    failed: np.ndarray  # True where the model gave no answer


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedMachine:
    """Draws from what pulls and priors leave possible; `draws[0]` is the best single one."""

    draws: tuple[Draw, ...]
    fitted: bool = True  # False: priors alone

    def few(self, count: int) -> FittedMachine:
        """The best draw and the next ones, `count` in all."""
        return replace(self, draws=self.draws[:count])

    def sweep(
        self,
        setup: Setup,
        speeds: Sequence[float],
        options: Options | None = None,
        stopped: Callable[[], bool] | None = None,
    ) -> MachineCurves:
        """A setup at speeds [rpm] on every draw, on all cores; `options` as for the plain model.

        Raises KeyboardInterrupt soon after `stopped` says True.
        """
        base = options or Options()

        def one(draw: Draw) -> list[SpeedPoint]:
            if stopped is not None and stopped():
                raise KeyboardInterrupt
            return sweep(setup, speeds, replace(base, calibration=draw.calibration), threads=1)

        with ThreadPoolExecutor(usable_cores()) as pool:
            rows = list(pool.map(one, self.draws))
        at = np.array([float(s) for s in speeds])
        errors = np.array([draw.error_at(at) for draw in self.draws])
        return MachineCurves(
            rpm=at,
            torque=_table(rows, lambda p: p.torque) * errors,
            lambda_trapped=_table(rows, lambda p: p.lambda_trapped),
            lambda_sensor=_table(rows, lambda p: float(np.mean([*p.lambda_sensor.values()] or [np.nan]))),
            knock_margin=_table(rows, lambda p: p.knock_margin),
            exhaust_temperature=_table(rows, lambda p: p.exhaust_temperature),
            failed=_table(rows, lambda p: p.outcome == FAILED).astype(bool),
        )


def _table(rows: list[list[SpeedPoint]], of: Callable[[SpeedPoint], float]) -> np.ndarray:
    return np.array([[of(point) for point in row] for row in rows])
