"""Causes taken away in the model, alone and together, on every draw of a fitted machine.

The carburettor of the draw itself meters the fuel, with its own trim: where the exhaust's echo is switched off,
the richness that the echo brings goes with it. The mixture is switched off in the burn alone: what air each
cylinder has trapped burns as with the best mixture, so that filling and cooling by fuel stay as they are. A mouth
without reflection also takes away the pulsation that the jets were chosen for, and the engine would starve; so the
intake wave is judged by what it does to the filling, with a premixed charge. Torque is compared at fixed engine
speeds, never by the depth of the hole, which looks cured where only its shoulders fell.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from pulsewright.bench.setup import Setup
from pulsewright.cause.causes import EXHAUST_WAVE, INTAKE_WAVE, MIXTURE, RESTRICTION
from pulsewright.cause.shapley import subsets
from pulsewright.cause.shares import NEIGHBOURS, CauseShare, Table, shares_of, switches_that_matter
from pulsewright.fit.machine import FIT_LEVEL, FittedMachine, MachineCurves
from pulsewright.network.options import AS_BUILT, BEST_TORQUE_MIXTURE, NON_REFLECTING, Options

SWITCHES = (EXHAUST_WAVE, INTAKE_WAVE, MIXTURE, RESTRICTION)
# Two honest models of one sheet put the depth of one hole up to 35 % apart (a study that varied its own
# sub-models). What is left of that after a fit is taken as half: it is free in every gain of every draw.
MODEL_DOUBT = {True: 0.15, False: 0.30}  # standard deviation of the log of a gain; fitted, or not
BOTTOM_SPEEDS = 9
BOTTOM_DRAWS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Split:
    """Outcome of the switches; torques are medians over the draws at the bottom."""

    rpm: float  # [rpm] of the model's bottom
    measured_rpm: float  # [rpm] the speed asked for
    as_built: float  # [N m] at the crank
    all_off: float  # [N m]
    single: dict[str, float]  # [N m] with one cause taken away
    shares: tuple[CauseShare, ...]  # largest first
    richness: float  # factor on lambda when the exhaust echo is taken away
    pulsation: float  # factor on lambda when the carburettor meters on the mean air flow
    gain_fraction: float  # (all_off - as_built) / all_off
    fitted: bool
    draws: int


class Switchboard:
    """Runs of one setup on every draw at a few speeds, each made once."""

    def __init__(
        self, machine: FittedMachine, setup: Setup, speeds: Sequence[float], pulled_as: str = "",
        stopped: Callable[[], bool] | None = None,
    ) -> None:  # fmt: skip
        self._machine, self._setup, self._speeds, self._stopped = machine, setup, list(speeds), stopped
        self._echo_error = echo_error(machine, pulled_as, speeds)
        self._made: dict[str, MachineCurves] = {}

    def lambda_trapped(self, off: frozenset[str]) -> np.ndarray:
        """Trapped lambda likewise, intake left as it is. (draws, speeds)"""
        return self._run(options_without(off)).lambda_trapped

    def torque(self, off: frozenset[str]) -> np.ndarray:
        """Torque with a group of causes taken away. (draws, speeds) [N m]"""
        return self._plain_torque(off) * (1.0 if EXHAUST_WAVE in off else self._echo_error)

    def _plain_torque(self, off: frozenset[str]) -> np.ndarray:
        if INTAKE_WAVE not in off:
            return self._run(options_without(off)).torque
        others = off - {INTAKE_WAVE}
        premixed = replace(options_without(others - {MIXTURE}), mixture=BEST_TORQUE_MIXTURE)
        filling = self._run(replace(premixed, intake_ends=NON_REFLECTING)).torque / self._run(premixed).torque
        return self._run(options_without(others)).torque * filling

    def _run(self, options: Options) -> MachineCurves:
        key = repr(options)
        if key not in self._made:
            self._made[key] = self._machine.sweep(self._setup, self._speeds, options, self._stopped)
        return self._made[key]

    def table(self, members: Sequence[str]) -> Table:
        """Torque with every group of these causes taken away."""
        return {group: self.torque(group) for group in subsets(members)}


def split_causes(
    machine: FittedMachine,
    setup: Setup,
    rpm: float,
    *,
    between: tuple[float, float] | None = None,
    suspects: Sequence[str] = SWITCHES,
    pulled_as: str = "",
    misfit: float = 0.0,
    stopped: Callable[[], bool] | None = None,
    seed: int = 1,
) -> Split:
    """Shares of the loss at `rpm` [rpm] of a setup.

    between : speeds between which the model's own bottom is looked for; None: `rpm` is taken as it is.
    suspects : of SWITCHES, those that are switched.
    pulled_as : name of the setup in its session: what the fitted model errs further with this setup's exhaust, and
    with no other, goes when its echo is switched off.
    misfit : part of the measured loss by which the model misses the bottom; any gain may be wrong by as much.
    """
    bottom = rpm
    if between is not None:
        speeds = np.linspace(*between, BOTTOM_SPEEDS)
        built = machine.few(BOTTOM_DRAWS).sweep(setup, list(speeds), options_without(frozenset()), stopped)
        torque = built.torque * echo_error(machine.few(BOTTOM_DRAWS), pulled_as, speeds)
        bottom = round(model_bottom(speeds, np.nanmean(torque, axis=0), rpm), -1)  # as finely as it is told
    speeds = [bottom * (1.0 + d) for d in NEIGHBOURS]
    screen = Switchboard(machine.few(1), setup, speeds, pulled_as, stopped)
    members = switches_that_matter(suspects, screen.table(suspects))
    board = Switchboard(machine, setup, speeds, pulled_as, stopped)
    table = board.table(members)
    middle = len(speeds) // 2
    at_bottom = {g: _median(t[:, middle]) for g, t in table.items()}
    built, whole = at_bottom[frozenset()], at_bottom[frozenset(members)]
    single = {s: float(screen.torque(frozenset({s}))[0, middle]) for s in suspects}
    single |= {s: at_bottom[frozenset({s})] for s in members}
    return Split(
        rpm=bottom,
        measured_rpm=rpm,
        as_built=built,
        all_off=whole,
        single=single,
        shares=shares_of(members, table, doubt=float(np.hypot(MODEL_DOUBT[machine.fitted], misfit)), seed=seed),
        richness=_lambda_ratio(screen, frozenset({EXHAUST_WAVE}), middle),
        pulsation=_pulsation(machine.few(1), setup, bottom, screen, middle, stopped),
        gain_fraction=1.0 - built / max(whole, built),
        fitted=machine.fitted,
        draws=len(machine.draws),
    )


def echo_error(machine: FittedMachine, pulled_as: str, speeds: Sequence[float] | np.ndarray) -> np.ndarray:
    """Factor on torque that only setups with the exhaust of this one show. (draws, speeds)"""
    return np.array([draw.exhaust_error_at(pulled_as, np.asarray(speeds, float)) for draw in machine.draws])


def _lambda_ratio(board: Switchboard, off: frozenset[str], middle: int) -> float:
    """Trapped lambda with a group taken away over that as built, on the best draw. [-]"""
    here, built = board.lambda_trapped(off), board.lambda_trapped(frozenset())
    return float(here[0, middle] / built[0, middle])


def _pulsation(
    best: FittedMachine, setup: Setup, rpm: float, board: Switchboard, middle: int, stopped: Callable[[], bool] | None
) -> float:
    """Trapped lambda with a carburettor that meters on the mean air flow over that as built. [-]"""
    steady = best.sweep(setup, [rpm], replace(options_without(frozenset()), mean_metering=True), stopped)
    return float(steady.lambda_trapped[0, 0] / board.lambda_trapped(frozenset())[0, middle])


def options_without(off: frozenset[str]) -> Options:
    """The model with a group of causes taken away that leave the intake as it is."""
    return Options(
        exhaust_ends=NON_REFLECTING if EXHAUST_WAVE in off else AS_BUILT,
        best_burn=MIXTURE in off,
        lossless=RESTRICTION in off,
        grid=FIT_LEVEL.grid,
    )


def model_bottom(speeds: np.ndarray, torque: np.ndarray, rpm: float) -> float:
    """Speed with least torque [N m] between the ends; `rpm` where none lies inside. [rpm]"""
    if not np.isfinite(torque).all():
        return rpm
    k = int(np.argmin(torque))
    if not 0 < k < speeds.size - 1:
        return rpm
    a, b, c = torque[k - 1 : k + 2]
    bend = a - 2.0 * b + c
    shift = 0.0 if bend <= 0.0 else float(np.clip(0.5 * (a - c) / bend, -0.5, 0.5))
    return float(speeds[k] + shift * (speeds[1] - speeds[0]))


def _median(values: np.ndarray) -> float:
    return float(np.nanmedian(values))
