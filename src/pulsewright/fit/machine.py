"""A machine as the fit knows it: a handful of equally likely calibrations, the best one first."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from threading import Event

import numpy as np

from pulsewright.bench.setup import Setup
from pulsewright.network.calibration import NOMINAL, Calibration
from pulsewright.network.options import Options
from pulsewright.simulate.fidelity import FINAL, SHOW
from pulsewright.simulate.outcome import FAILED
from pulsewright.simulate.settle import Tolerance
from pulsewright.simulate.speed_point import SpeedPoint
from pulsewright.simulate.sweep import sweep, usable_cores

# A coarser grid moves lambda by 0.03, which the mixture's limits do not bear. Slopes are differences of runs: with the
# tolerance of level show the best fit slid along what pulls cannot tell, by 0.5 % of torque that was never pulled.
FIT_LEVEL = replace(SHOW, within=FINAL.within)


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """One likely machine.

    gain : dyno reading over torque at the crank. [-]
    lambda_bias : what the lambda sensor reads high. [-]
    torque_error, lambda_error : rows (rpm, factor): the engine's torque and mixture over what this calibration
        gives, where the model itself errs, in all setups alike.
    exhaust_error : such rows of torque by name of a setup that was pulled: what the model errs further in setups
        with that one's exhaust, and in no others.
    """

    calibration: Calibration = NOMINAL
    gain: float = 1.0
    lambda_bias: float = 0.0
    torque_error: tuple[tuple[float, float], ...] = ()
    lambda_error: tuple[tuple[float, float], ...] = ()
    exhaust_error: tuple[tuple[str, tuple[tuple[float, float], ...]], ...] = ()

    def error_at(self, speeds: np.ndarray) -> np.ndarray:
        """Factor of the model's own error of torque at engine speeds. [rpm] -> [-]"""
        return _factor_at(self.torque_error, speeds)

    def lambda_error_at(self, speeds: np.ndarray) -> np.ndarray:
        """Factor of the model's own error of lambda at engine speeds. [rpm] -> [-]"""
        return _factor_at(self.lambda_error, speeds)

    def exhaust_error_at(self, setup: str, speeds: np.ndarray) -> np.ndarray:
        """Factor of the error that belongs to the exhaust of a pulled setup, 1 for one unknown. [rpm] -> [-]"""
        return _factor_at(dict(self.exhaust_error).get(setup, ()), speeds)


def _factor_at(rows: tuple[tuple[float, float], ...], speeds: np.ndarray) -> np.ndarray:
    if not rows:
        return np.ones(len(speeds))
    at, factors = zip(*rows, strict=True)
    return np.interp(speeds, at, factors)


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineCurves:
    """Results of one setup on every draw; arrays are (draws, speeds)."""

    rpm: np.ndarray  # (speeds,)
    torque: np.ndarray  # [N m] at the crank, the model's own error taken out
    reading: np.ndarray  # [N m] what this dyno would show
    lambda_trapped: np.ndarray  # the model's own error taken out, as below
    lambda_sensor: np.ndarray  # mean of the sensors, without their bias; nan without one
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
        within: Tolerance | None = None,
    ) -> MachineCurves:
        """A setup at speeds [rpm] on every draw, on all cores; `options` and `within` as for the plain model.

        Where nothing is said, as finely as the fit was made: the errors of a draw belong to that.
        Raises KeyboardInterrupt soon after `stopped` says True, or after one in the calling thread.
        """
        base = options or Options(grid=FIT_LEVEL.grid)
        given_up = Event()

        def ask(*_: object) -> None:
            if given_up.is_set() or (stopped is not None and stopped()):
                raise KeyboardInterrupt

        def one(draw: Draw) -> list[SpeedPoint]:
            ask()
            chosen = replace(base, calibration=draw.calibration)
            return sweep(setup, speeds, chosen, within=within or FIT_LEVEL.within, progress=ask, threads=1)

        with ThreadPoolExecutor(usable_cores()) as pool:
            try:
                rows = list(pool.map(one, self.draws))
            except BaseException:
                given_up.set()
                raise
        at = np.array([float(s) for s in speeds])
        torque = _table(rows, lambda p: p.torque) * np.array([draw.error_at(at) for draw in self.draws])
        richness = np.array([draw.lambda_error_at(at) for draw in self.draws])
        sensor = _table(rows, lambda p: float(np.mean([*p.lambda_sensor.values()] or [np.nan])))
        return MachineCurves(
            rpm=at,
            torque=torque,
            reading=torque * np.array([[draw.gain] for draw in self.draws]),
            lambda_trapped=_table(rows, lambda p: p.lambda_trapped) * richness,
            lambda_sensor=sensor * richness,
            knock_margin=_table(rows, lambda p: p.knock_margin),
            exhaust_temperature=_table(rows, lambda p: p.exhaust_temperature),
            failed=_table(rows, lambda p: p.outcome == FAILED).astype(bool),
        )


def _table(rows: list[list[SpeedPoint]], of: Callable[[SpeedPoint], float]) -> np.ndarray:
    return np.array([[of(point) for point in row] for row in rows])
