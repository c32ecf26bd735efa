"""The real model of a whole session as a function of the unknowns: what the pulls should have read."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from pulsewright.bench.exhaust import CrossBolt, Disc, Insert, Plate
from pulsewright.errors import CancelledError
from pulsewright.fit.model_error import Points
from pulsewright.fit.observations import Observations, Observed
from pulsewright.fit.unknowns import COEFFICIENTS, TRIM, TRIM_SHARES, Unknown, calibration_of, unknowns_of, values_of
from pulsewright.many.kept_rows import KeptRows, Row
from pulsewright.network.calibration import Calibration
from pulsewright.network.case import Case
from pulsewright.network.options import Options
from pulsewright.simulate.fidelity import Level
from pulsewright.simulate.speed_point import SpeedPoint
from pulsewright.simulate.sweep import split_by_cost, sweep, usable_cores
from pulsewright.simulate.warm_start import Path, Rest

PARTS = 2  # runs of neighbouring speeds that a setup is cut into; fixed, so that results do not hang on the cores
SLOPE_STEP = 0.5  # standard numbers
WIDEST = 0.7  # log of lambda over the measured one that still counts
AIR_POWER = 1.18  # torque goes with the density of air to this power, by the correction of SAE J1349
TRIM_NAME = "trim"

# Over the speeds of one setup: torque at the crank [N m], lambda at the sensor, share that the worst cylinder fires.
Curves = tuple[np.ndarray, np.ndarray, np.ndarray]


@dataclass(frozen=True, slots=True)
class _Job:
    """Part of the speeds of one setup, with one calibration."""

    setup: int
    speeds: tuple[float, ...]
    calibration: Calibration
    base: Calibration | None  # whose states the run starts from; None: cold


class _Starts(Path):
    """States of a finished run, to start from by many at a time."""

    def __init__(self, made: Path) -> None:
        super().__init__()
        self._rests = made._rests

    def keep(self, case: Case, rest: Rest) -> None:
        """Nothing is taken in."""

    def forget(self, rpm: float) -> None:
        """Nothing is taken out."""


class SessionModel:
    """Runs of the model at standard numbers (n,), as readings (m,) in the order of `points`.

    Every run is kept by key in `runs` and never made twice. `stopped` is asked after every speed.
    """

    def __init__(
        self,
        seen: Observations,
        points: Points,
        level: Level,
        *,
        runs: KeptRows | None = None,
        code: str = "",
        stopped: Callable[[], bool] | None = None,
        done: Callable[[], None] | None = None,
    ) -> None:
        self.unknowns: tuple[Unknown, ...] = unknowns_of(seen.torque_at)
        self.names = [u.name for u in self.unknowns]
        self._seen, self._points, self._level = seen.setups, points, level
        self._range = seen.rpm_range
        self._runs, self._code = KeptRows() if runs is None else runs, code
        self._stopped, self._done = stopped or (lambda: False), done or (lambda: None)
        self._starts: dict[tuple[Calibration, int, tuple[float, ...]], Path] = {}
        self._texts = [repr(o.setup) for o in seen.setups]

    def calibration(self, z: np.ndarray) -> Calibration:
        """Coefficients of the model at standard numbers."""
        return calibration_of(values_of(z, self.unknowns), self._range)

    def run(self, z: np.ndarray) -> np.ndarray:
        """Readings at one point, from a cold start; others may start from it. (m,)"""
        return self._readings(z, self._curves([(z, None)])[0])

    def run_many(self, base: np.ndarray, many: Sequence[np.ndarray]) -> list[np.ndarray]:
        """Readings at many points near `base`, whose states they start from. (m,) each"""
        return [self._readings(z, c) for z, c in zip(many, self._curves([(z, base) for z in many]), strict=True)]

    def slopes(self, z: np.ndarray, value: np.ndarray) -> np.ndarray:
        """Change of the readings a standard number, by steps of the real model. (m, n)"""
        steps = self._steps(z)
        trim = [n for n, u in enumerate(self.unknowns) if u in TRIM]
        moved = {name: self._moved(z, name, step) for name, step in steps.items()}
        curves = dict(zip(moved, self._curves([(at, z) for at in moved.values()]), strict=True))
        base = self._curves([(z, None)])[0]
        slopes = np.zeros((value.size, len(self.unknowns)))
        for n, unknown in enumerate(self.unknowns):
            if unknown.name in moved and n not in trim:
                slopes[:, n] = (self._readings(z, curves[unknown.name]) - value) / steps[unknown.name]
            elif n not in trim:
                step = _inward(unknown, z[n])
                slopes[:, n] = (self._readings(self._moved(z, unknown.name, step), base) - value) / step
        whole = (self._readings(z, curves[TRIM_NAME]) - value) / steps[TRIM_NAME]
        slopes[:, trim] = whole[:, None] * self._hats()
        return slopes

    def first_slopes(self, value: np.ndarray) -> np.ndarray:
        """Slopes that are known before any run: fuel goes with the jets. Torque is taken as flat. (m, n)"""
        slopes = np.zeros((value.size, len(self.unknowns)))
        rows = self._points.lambda_
        for n, unknown in enumerate(self.unknowns):
            if unknown.name == "main_jet":
                slopes[rows, n] = -unknown.spread
            elif unknown in TRIM:
                slopes[rows, n] = -unknown.spread * self._hats()[rows, TRIM.index(unknown)]
        return slopes

    def _steps(self, z: np.ndarray) -> dict[str, float]:
        """Step of every unknown that moves the model; one for all trims, since each speed has only one."""
        plain = not any(_has_obstacle(o) for o in self._seen)
        names = [u.name for u in COEFFICIENTS if not (plain and u.name == "loss_position")]
        steps = {name: _inward(self.unknowns[self.names.index(name)], z[self.names.index(name)]) for name in names}
        return {**steps, TRIM_NAME: -SLOPE_STEP}

    def _moved(self, z: np.ndarray, name: str, step: float) -> np.ndarray:
        moved = np.array(z, float)
        moved[[n for n, u in enumerate(self.unknowns) if u.name == name or (name == TRIM_NAME and u in TRIM)]] += step
        return moved

    def _hats(self) -> np.ndarray:
        """Weight of every trim at every reading: 1 at its own speed, straight to 0 at its neighbours'. (m, trims)"""
        low, high = self._range
        knots = low + np.array(TRIM_SHARES) * (high - low)
        return np.array([np.interp(self._points.rpm, knots, row) for row in np.eye(knots.size)]).T

    def _readings(self, z: np.ndarray, curves: Sequence[Curves]) -> np.ndarray:
        """What dyno and sensor would have shown, in the measures of `Points`."""
        v, p = values_of(z, self.unknowns), self._points
        value = np.empty(p.rpm.size)
        for n, (k, is_lambda) in enumerate(zip(p.speed, p.lambda_, strict=True)):
            o = self._seen[p.setup[n]]
            torque, mixture, firing = curves[p.setup[n]]
            if p.firing[n]:
                value[n] = firing[k] if math.isfinite(firing[k]) else 0.0
            elif is_lambda:
                read = mixture[k] * v["air"] ** 0.5 + v["lambda_bias"] + v["lambda_delay"] * o.mixture_late[k]
                apart = math.log(max(read, 0.1) / o.mixture[k]) if math.isfinite(read) else WIDEST
                value[n] = min(max(apart, -WIDEST), WIDEST)
            else:
                read = v["gain"] * torque[k] * v["air"] ** AIR_POWER / o.torque[k]
                value[n] = read if math.isfinite(read) else 0.0
        return value

    def _curves(self, points: Sequence[tuple[np.ndarray, np.ndarray | None]]) -> list[list[Curves]]:
        """Curves of every setup at every point, those that are new on all cores."""
        wanted = [self._jobs(self.calibration(z), None if b is None else self.calibration(b)) for z, b in points]
        new = {self._key(job): job for jobs in wanted for job in jobs if self._runs.get(self._key(job)) is None}
        for base in {job.base for job in new.values() if job.base is not None}:
            lacking = [j for j in self._jobs(base, None) if (base, j.setup, j.speeds) not in self._starts]
            self._on_all_cores(lacking)
        self._on_all_cores([job for job in new.values() if self._runs.get(self._key(job)) is None])
        return [self._joined(jobs) for jobs in wanted]

    def _jobs(self, calibration: Calibration, base: Calibration | None) -> list[_Job]:
        base = None if base == calibration else base
        return [
            _Job(n, tuple(part), calibration, base)
            for n, o in enumerate(self._seen)
            for part in split_by_cost(o.rpm.tolist(), PARTS)
        ]

    def _joined(self, jobs: Sequence[_Job]) -> list[Curves]:
        joined: list[Curves] = []
        for n, o in enumerate(self._seen):
            rows = {}
            for job in jobs:
                found = self._runs.get(self._key(job))
                if job.setup == n and found is not None:
                    told = zip(found["torque"], found["lambda"], found["firing"], strict=True)
                    rows.update(zip(job.speeds, told, strict=True))
            torque, mixture, firing = np.array([rows[rpm] for rpm in o.rpm.tolist()]).T
            joined.append((torque, mixture, firing))
        return joined

    def _key(self, job: _Job) -> str:
        text = repr((self._code, self._level, self._texts[job.setup], job.speeds, job.calibration, job.base))
        return hashlib.sha256(text.encode()).hexdigest()[:24]

    def _on_all_cores(self, jobs: Sequence[_Job]) -> None:
        if not jobs:
            return
        with ThreadPoolExecutor(usable_cores()) as pool:
            futures = [pool.submit(self._work, job) for job in jobs]
            try:
                for future in futures:
                    future.result()
            except BaseException:
                pool.shutdown(wait=False, cancel_futures=True)
                raise

    def _work(self, job: _Job) -> None:
        path = Path() if job.base is None else _Starts(self._starts[job.base, job.setup, job.speeds])
        options = Options(grid=self._level.grid, calibration=job.calibration)
        points = sweep(
            self._seen[job.setup].setup, job.speeds, options, within=self._level.within, progress=self._ask,
            threads=1, path=path,
        )  # fmt: skip
        if job.base is None:
            self._starts[job.calibration, job.setup, job.speeds] = path
        self._runs.put(self._key(job), _curves_of(points))
        self._done()

    def _ask(self, _done: int, _in_all: int, _rpm: float) -> None:
        if self._stopped():
            raise CancelledError("the fit was stopped", hint="the same command goes on; finished runs are kept")


def _curves_of(points: Sequence[SpeedPoint]) -> Row:
    """Torque, what the lambda sensors show (the trapped mixture where the sheet places none), and what fires."""
    seen = [float(np.mean(list(p.lambda_sensor.values()))) if p.lambda_sensor else p.lambda_trapped for p in points]
    firing = [min(p.firing_by_cylinder) for p in points]
    return {"torque": [p.torque for p in points], "lambda": seen, "firing": firing}


def _inward(unknown: Unknown, z: float) -> float:
    """A step that stays within the limits of an unknown, towards its centre where both ways do."""
    high = unknown.standard(unknown.high)
    return SLOPE_STEP if z <= 0.0 and z + SLOPE_STEP <= high else -SLOPE_STEP


def _has_obstacle(seen: Observed) -> bool:
    pieces = [p for route in seen.setup.exhaust.route.values() for p in route]
    return any(isinstance(p, CrossBolt | Disc | Insert | Plate) for p in pieces)
