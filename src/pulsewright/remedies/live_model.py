"""The model under a slider: a machine whose dials are turned, answered at once and coarsely, then in full.

One browser's own: it keeps where the last turn came to rest, so that the next one starts there.
"""

from __future__ import annotations

import threading
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field

import numpy as np

from pulsewright.bench.setup import Setup
from pulsewright.errors import CancelledError
from pulsewright.fit.machine import Draw, FittedMachine
from pulsewright.network.options import Options
from pulsewright.remedies.forecast import Forecast, forecast, usable_draws
from pulsewright.remedies.gates import KNOCK, Refusal, refusals
from pulsewright.remedies.reference import Reference
from pulsewright.remedies.trials import TrialCurves, trial_of
from pulsewright.simulate.echo import compute_echo
from pulsewright.simulate.echo_field import EchoField
from pulsewright.simulate.fidelity import DRAG, FINAL, SHOW, Level
from pulsewright.simulate.load_kernels import load_kernels
from pulsewright.simulate.speed_point import SpeedPoint
from pulsewright.simulate.sweep import sweep
from pulsewright.simulate.warm_start import Path

COARSE, FULL = 13, 25  # speeds while the slider moves, and after it is let go
MOVED_ON = "the dials have moved on"
USUAL_REACH = (1500.0, 6000.0)  # [rpm] where there are no pulls


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LiveCurve:
    """What one turn of the dials gives. Arrays are (speeds,), nan where the model gave no answer."""

    level: str
    rpm: np.ndarray
    torque: np.ndarray  # [N m] as this dyno would show it; at the crank where the model is not fitted
    lambda_: np.ndarray  # as the sensor would read it; trapped where the sheet has no sensor
    forecast: Forecast | None  # against what the pulls measured; None without pulls
    refusals: tuple[Refusal, ...]


@dataclass(slots=True, kw_only=True)
class LiveModel:
    """The best machine of a fit, or the sheet's own, under the dials of one browser.

    reference : what was measured of the machine as it is; None: nothing, and no gate can be asked.
    pulled : other machines with pulls: what they stood of knock has been stood.
    known : by level, what the machine as it is gave; may be shared with the models of other browsers.
    """

    before: Setup
    machine: FittedMachine
    reference: Reference | None = None
    reach: tuple[float, float] = USUAL_REACH
    pulled: tuple[Setup, ...] = ()
    _stood: dict[str, np.ndarray] = field(default_factory=dict)
    _paths: dict[str, Path] = field(default_factory=dict)
    known: dict[str, Sequence[SpeedPoint]] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _echo_lock: threading.Lock = field(default_factory=threading.Lock)
    _asked: int = 0
    _moves: int = 0

    @property
    def draw(self) -> Draw:
        """The machine that answers."""
        return self.machine.draws[0]

    def warm_up(self) -> None:
        """Load what the first turn would wait for, and come to rest as the machine is; gives way to any question."""
        if DRAG.name in self._paths:
            return
        load_kernels(self.before, self._options(DRAG))
        with suppress(CancelledError), self._lock:
            self._run(self.before, DRAG, self._asked)

    def curve(self, setup: Setup, level: Level) -> LiveCurve:
        """Curves of a turned machine, with gates where there is something measured to ask them of.

        Raises CancelledError, between two speeds, as soon as the next question is there.
        """
        self._asked += 1
        self._moves += level.name == DRAG.name
        mine = self._asked
        with self._lock:
            before = self._before(level, mine)
            points = before if setup is self.before else self._run(setup, level, mine)
            found, why = self._judged(trial_of(before), trial_of(points), level, mine)
        return self._laid_out(points, found, why, level)

    def echo(self, setup: Setup, rpm: float, cylinder: int, level: Level) -> EchoField:
        """The pressure in a pipe of a turned machine at one speed.

        Raises UsageError where there is no answer, CancelledError, between two cycles, as soon as a dial moves: a
        coarse curve is asked for. The full curve and the echo are computed side by side.
        """
        moves = self._moves

        def moved_on() -> bool:
            return self._moves != moves

        try:
            with self._echo_lock:
                return compute_echo(
                    setup, rpm, cylinder, options=self._options(level), within=level.within, stopped=moved_on
                )
        except KeyboardInterrupt:
            raise CancelledError(MOVED_ON) from None

    def _before(self, level: Level, mine: int) -> Sequence[SpeedPoint]:
        if level.name not in self.known:
            self.known[level.name] = self._run(self.before, level, mine)
        return self.known[level.name]

    def _run(self, setup: Setup, level: Level, mine: int, *, aside: bool = False) -> Sequence[SpeedPoint]:
        """A sweep; `aside`: of another machine, which must not lead the slider's next start astray."""

        def go_on(*_: object) -> None:
            if self._asked != mine:
                raise CancelledError(MOVED_ON)

        path = None if aside else self._paths.setdefault(level.name, Path())
        speeds = self.speeds(level)
        return sweep(setup, speeds, self._options(level), within=level.within, path=path, progress=go_on)

    def speeds(self, level: Level) -> list[float]:
        """Engine speeds of a level. [rpm]"""
        count = COARSE if level.name == DRAG.name else FULL
        return [float(round(s)) for s in np.linspace(*self.reach, count)]

    def _options(self, level: Level) -> Options:
        return Options(grid=level.grid, calibration=self.draw.calibration)

    def _laid_out(
        self, points: Sequence[SpeedPoint], found: Forecast | None, why: tuple[Refusal, ...], level: Level
    ) -> LiveCurve:
        after = trial_of(points)
        read = np.where(np.isfinite(after.sensor), after.sensor, after.trapped)
        return LiveCurve(
            level=level.name,
            rpm=after.rpm,
            torque=after.torque[0] * self.draw.error_at(after.rpm) * self.draw.gain,
            lambda_=read[0] * self.draw.lambda_error_at(after.rpm) + self.draw.lambda_bias,
            forecast=found,
            refusals=why,
        )

    def _judged(
        self, before: TrialCurves, after: TrialCurves, level: Level, mine: int
    ) -> tuple[Forecast | None, tuple[Refusal, ...]]:
        """Forecast and refusals; what other setups stood is computed only where knock would refuse."""
        if self.reference is None or not usable_draws(before).all():
            return None, ()
        bias = np.array([self.draw.lambda_bias])
        found = forecast(self.reference, before, after, bias)
        why = refusals(self.reference, found)
        if self.pulled and KNOCK in [r.gate for r in why]:
            found = forecast(self.reference, before, after, bias, self._stood_so_far(level, mine))
            why = refusals(self.reference, found)
        return found, why

    def _stood_so_far(self, level: Level, mine: int) -> np.ndarray:
        """Highest end-gas integral of the pulled machines. (1, speeds)"""
        if level.name not in self._stood:
            curves = [trial_of(self._run(setup, level, mine, aside=True)) for setup in self.pulled]
            self._stood[level.name] = np.fmax.reduce([c.knock for c in curves])
        return self._stood[level.name]


LEVELS = {"drag": DRAG, "show": SHOW, "final": FINAL}


def nominal_machine() -> FittedMachine:
    """The machine as the sheet has it."""
    return FittedMachine(draws=(Draw(),), fitted=False)
