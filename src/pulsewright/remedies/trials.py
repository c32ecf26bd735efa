"""A setup on the draws of a machine: what gates and forecasts need, kept by key so that nothing is run twice."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, fields, replace

import numpy as np

from pulsewright.bench.setup import Setup
from pulsewright.errors import CancelledError
from pulsewright.fit.machine import Draw, FittedMachine
from pulsewright.many.code_version import code_version
from pulsewright.many.kept_rows import KeptRows, Row
from pulsewright.network.options import Options
from pulsewright.remedies.candidates import setup_hash
from pulsewright.simulate.fidelity import DRAG, Level
from pulsewright.simulate.outcome import FAILED
from pulsewright.simulate.speed_point import SpeedPoint
from pulsewright.simulate.sweep import sweep, usable_cores

DIGITS = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialCurves:
    """Results of one setup on draws; arrays are (draws, speeds), nan where the model gave no answer."""

    rpm: np.ndarray  # (speeds,)
    torque: np.ndarray  # [N m]
    leanest: np.ndarray  # trapped lambda of the leanest cylinder [-]
    trapped: np.ndarray  # of all cylinders together [-]
    sensor: np.ndarray  # mean of the lambda sensors, their own error left out [-]; nan without one
    knock: np.ndarray  # end-gas integral of the worst cylinder, 1 = knock [-]


NAMES = tuple(f.name for f in fields(TrialCurves) if f.name != "rpm")


@dataclass(frozen=True, slots=True, kw_only=True)
class Trials:
    """Runs setups on a fitted machine at fixed speeds [rpm]. `stopped` is asked between two speeds."""

    machine: FittedMachine
    speeds: tuple[float, ...]
    level: Level = DRAG
    keep: KeptRows = field(default_factory=KeptRows)
    stopped: Callable[[], bool] = lambda: False
    compute: Callable[..., list[SpeedPoint]] = sweep  # stood in for by tests

    def run(self, setups: Sequence[Setup], draws: int, options: Options | None = None) -> list[TrialCurves]:
        """Each setup on the first `draws` draws, on all cores.

        Raises CancelledError soon after `stopped` says True; what is finished by then is kept.
        """
        some = self.machine.draws[:draws]
        work = [(setup, draw) for setup in setups for draw in some]
        with ThreadPoolExecutor(usable_cores()) as pool:
            futures = [pool.submit(self._row, setup, draw, options or Options()) for setup, draw in work]
            try:
                rows = [future.result() for future in futures]
            except BaseException:
                for future in futures:
                    future.cancel()
                raise
        count = len(some)
        return [self._stacked(rows[k * count : (k + 1) * count]) for k in range(len(setups))]

    def _row(self, setup: Setup, draw: Draw, options: Options) -> Row:
        self._check()
        key = self._key(setup, draw, options)
        row = self.keep.get(key)
        if row is None:
            own = replace(options, grid=self.level.grid, calibration=draw.calibration)
            points = self.compute(
                setup, self.speeds, own, within=self.level.within, threads=1, progress=lambda *_: self._check()
            )
            row = _row_of(points)
            self.keep.put(key, row)
        return row

    def _check(self) -> None:
        if self.stopped():
            raise CancelledError(hint="the same command goes on; what is finished is kept")

    def _key(self, setup: Setup, draw: Draw, options: Options) -> str:
        parts = (
            code_version(),
            setup_hash(setup),
            repr(setup.air),
            repr(draw),
            repr(options),
            repr(self.speeds),
            self.level.name,
        )
        return hashlib.sha256("\n".join(parts).encode()).hexdigest()[:24]

    def _stacked(self, rows: Sequence[Row]) -> TrialCurves:
        tables = {name: np.array([row[name] for row in rows], dtype=float) for name in NAMES}
        return TrialCurves(rpm=np.array(self.speeds), **tables)


def trial_of(points: Sequence[SpeedPoint]) -> TrialCurves:
    """One setup on one draw."""
    tables = {name: np.array([values]) for name, values in _row_of(points).items()}
    return TrialCurves(rpm=np.array([p.rpm for p in points]), **tables)


def _row_of(points: Sequence[SpeedPoint]) -> Row:
    """The model's own errors stay in: forecasts use what a change does, and there they fall out."""

    def curve(of: Callable[[SpeedPoint], float]) -> list[float]:
        values = [float("nan") if p.outcome == FAILED else float(of(p)) for p in points]
        return [float(f"{v:.{DIGITS}g}") for v in values]

    return {
        "torque": curve(lambda p: p.torque),
        "leanest": curve(lambda p: max(p.trapped_by_cylinder)),
        "trapped": curve(lambda p: p.lambda_trapped),
        "sensor": curve(lambda p: float(np.mean([*p.lambda_sensor.values()] or [np.nan]))),
        "knock": curve(lambda p: 1.0 - p.knock_margin),
    }
