"""The machine that a session is explained with, and its torque beside the measured one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from pulsewright.bench.session import Session
from pulsewright.cause.unfitted_machine import unfitted_machine
from pulsewright.fit.fit import Fit, identity_of
from pulsewright.fit.fit_session import DRAWS, SEED, fit_session, stored_fit
from pulsewright.fit.machine import FIT_LEVEL, FittedMachine
from pulsewright.fit.observations import observations
from pulsewright.network.options import NON_REFLECTING, Options
from pulsewright.pulls.hole import Hole
from pulsewright.pulls.measured_mixture import trusted_mixture
from pulsewright.pulls.session_pulls import SessionPulls
from pulsewright.pulls.setup_curves import SetupCurves

SPEEDS = 15  # of an unfitted model's curve
QUANTILES = (0.1, 0.5, 0.9)

Stopped = Callable[[], bool]
Say = Callable[[str], None]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ModelTorque:
    """The model of one setup as this dyno would show it, its own error left in. Arrays run over the speeds."""

    setup: str
    rpm: np.ndarray
    draws: np.ndarray  # (draws, speeds) [N m]
    lambda_sensor: np.ndarray  # best draw; NaN where there is none, or it was taken from the pulls
    without_echo: np.ndarray  # [N m] best draw, exhaust ends made non-reflecting
    scale: float  # by which an unfitted model was brought to the measured level; 1 for a fitted one

    def quantile(self, which: float) -> np.ndarray:
        """Quantile over the draws. (speeds,) [N m]"""
        return np.nanquantile(self.draws, which, axis=0)


def fit_of_session(
    session: Session,
    pulls: SessionPulls,
    *,
    store: Path | None = None,
    say: Say | None = None,
    stopped: Stopped | None = None,
) -> Fit:
    """The stored fit of these very pulls if there is a full one, else a quick fit."""
    full = known_fit(session, pulls, store, quick=False)
    if full is not None:
        return full
    told: set[str] = set()

    def tell(_share: float, words: str) -> None:
        if say is not None and words not in told:
            told.add(words)
            say(words)

    return fit_session(session, pulls, quick=True, store=store, progress=tell, stopped=stopped)


def known_fit(session: Session, pulls: SessionPulls, store: Path | None, *, quick: bool) -> Fit | None:
    """The stored fit of these very pulls, None where there is none; `quick`: the quick one."""
    return stored_fit(identity_of(observations(session, pulls), seed=SEED, draws=DRAWS, quick=quick), store)


def machine_without_fit(session: Session, pulls: SessionPulls, stopped: Stopped | None = None) -> FittedMachine:
    """The baseline's sheet and machines as likely, jets trimmed to the measured mixture where it can be trusted."""
    curves = pulls.setups[pulls.baseline]
    setup = session.setup(pulls.baseline).setup
    reach = float(curves.rpm[0]), float(curves.rpm[-1])
    return unfitted_machine(setup, reach, trusted_mixture(pulls), stopped=stopped)


def fitted_torque(session: Session, pulls: SessionPulls, fit: Fit, stopped: Stopped | None = None) -> ModelTorque:
    """Torque of the fitted baseline, without the error curve that the fit has learned."""
    row = next(f for f in fit.setups if f.name == pulls.baseline)
    best = fit.machine.few(1)
    free = best.sweep(session.setup(pulls.baseline).setup, list(row.rpm), _free(), stopped)
    return ModelTorque(
        setup=row.name, rpm=row.rpm, draws=row.model_torque, lambda_sensor=row.model_mixture[0],
        without_echo=free.reading[0] / best.draws[0].error_at(row.rpm), scale=1.0,
    )  # fmt: skip


def unfitted_torque(
    session: Session, pulls: SessionPulls, machine: FittedMachine, stopped: Stopped | None = None
) -> ModelTorque:
    """Torque of the unfitted baseline, brought to the measured level so that shapes can be compared."""
    curves = pulls.setups[pulls.baseline]
    setup = session.setup(pulls.baseline).setup
    speeds = np.linspace(curves.rpm[0], curves.rpm[-1], SPEEDS)
    best = machine.few(1)
    built = best.sweep(setup, list(speeds), Options(grid=FIT_LEVEL.grid), stopped)
    free = best.sweep(setup, list(speeds), _free(), stopped)
    scale = _scale(curves, speeds, built.reading[0], pulls.hole)
    metered = trusted_mixture(pulls) is None  # else the jets were trimmed to what was measured
    return ModelTorque(
        setup=pulls.baseline, rpm=speeds, draws=scale * built.reading,
        lambda_sensor=built.lambda_sensor[0] if metered else np.full(speeds.size, np.nan),
        without_echo=scale * free.reading[0], scale=scale,
    )  # fmt: skip


def _free() -> Options:
    return replace(Options(grid=FIT_LEVEL.grid), exhaust_ends=NON_REFLECTING)


def _scale(curves: SetupCurves, speeds: np.ndarray, torque: np.ndarray, hole: Hole | None) -> float:
    """Measured over model torque, median over the speeds outside the hole. [-]"""
    outside = np.ones(speeds.size, dtype=bool)
    if hole is not None:
        outside = (speeds < hole.rpm_from) | (speeds > hole.rpm_to)
    ratio = measured_at(curves, speeds)[outside] / torque[outside]
    ratio = ratio[np.isfinite(ratio) & (ratio > 0.0)]
    return float(np.median(ratio)) if ratio.size else 1.0


def measured_at(curves: SetupCurves, speeds: np.ndarray) -> np.ndarray:
    """Measured torque of a setup at speeds, by its trend. [N m]"""
    known = np.isfinite(curves.torque_trend)
    return np.interp(speeds, curves.rpm[known], curves.torque_trend[known])


def unexplained_part(curves: SetupCurves, hole: Hole, model: ModelTorque) -> tuple[float, float, float] | None:
    """Model minus measurement at the bottom over the measured loss there: middle, and 80 % interval over the draws.

    Above 0 the model loses too little torque there, below 0 too much.
    """
    measured = float(measured_at(curves, np.array([hole.rpm_bottom]))[0])
    loss = measured * hole.depth / (1.0 - hole.depth)
    at = np.array([np.interp(hole.rpm_bottom, model.rpm, row) for row in model.draws if np.isfinite(row).all()])
    if not at.size:
        return None
    low, middle, high = np.clip((np.quantile(at, QUANTILES) - measured) / loss, -1.0, 1.0)
    return float(middle), float(low), float(high)
