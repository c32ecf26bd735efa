"""What the fit is held against: torque and lambda of every setup at a few speeds, with their scatter.

Pulls that findings call false are left out, and so are speeds at which the engine did not run as an engine that
the model could follow: it missed, starved or slipped. Lambda of a sensor that is doubted is left out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from pulsewright.bench.air import Air
from pulsewright.bench.session import Session
from pulsewright.bench.setup import Setup
from pulsewright.errors import InputError
from pulsewright.pulls.bins import WIDTH
from pulsewright.pulls.finding import Finding
from pulsewright.pulls.scatter_prior import USUAL
from pulsewright.pulls.session_pulls import SessionPulls
from pulsewright.pulls.setup_curves import SetupCurves
from pulsewright.pulls.trend import trend
from pulsewright.pulls.unlag import sweep_rate

SPEEDS = 15
NEAR = 75.0  # [rpm] bins this close to a speed are averaged: three of them
EVEN = 1.0  # strength of a finding, log10 of its odds, from which it is acted on
FALSE_PULL = ("odd pull", "pick-up")  # the whole pull, whatever speeds are named
FALSE_TORQUE = (*FALSE_PULL, "slip")
NO_SUCH_ENGINE = ("misfire", "fuel starvation")  # the model's engine fires and is fed
FALSE_LAMBDA = ("sensor limit",)
MODEL_SCATTER = 0.004  # [-] of the model's torque from speed to speed, by grid and tolerance
LAMBDA_SCATTER = 0.006  # [-] of lambda at one speed: noise of the sensor and of the model


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Observed:
    """One setup as measured. Arrays run over the speeds; NaN where nothing counts."""

    name: str
    setup: Setup  # in the air of its pulls
    pulls: tuple[int, ...]  # session numbers, counting from 1
    rpm: np.ndarray
    torque: np.ndarray  # [N m] in the air of the pulls, heat and drift taken out
    torque_sd: np.ndarray  # [-] of one speed
    gain_sd: float  # [-] of what all speeds of this setup share
    factor: float  # weather correction that makes `torque` the torque in reference air
    mixture: np.ndarray  # lambda, put back by the sensor's delay
    mixture_sd: np.ndarray
    mixture_late: np.ndarray  # change of lambda by one standard deviation of the delay


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Observations:
    """Everything that the fit is held against."""

    setups: tuple[Observed, ...]
    torque_at: str  # "engine" or "wheel"
    notes: tuple[str, ...]

    @property
    def rpm_range(self) -> tuple[float, float]:
        """Lowest and highest speed of all setups. [rpm]"""
        return min(float(o.rpm[0]) for o in self.setups), max(float(o.rpm[-1]) for o in self.setups)


def observations(session: Session, pulls: SessionPulls, count: int = SPEEDS) -> Observations:
    """Torque and lambda of every setup that pulls can speak for, at `count` speeds.

    Raises InputError where no pull is left.
    """
    notes: list[str] = []
    found = [_observed(session, pulls, curves, count, notes) for curves in pulls.setups.values()]
    setups = tuple(o for o in found if o is not None)
    if not setups:
        raise InputError(
            "no pull is left that a model could be fitted to", where=str(session.folder),
            hint="`pulsewright pulls check` says what is wrong with them",
        )  # fmt: skip
    if not any(np.isfinite(o.mixture).any() for o in setups):
        notes.append("no lambda can be trusted: the mixture is told by torque alone")
    return Observations(setups=setups, torque_at=pulls.pulls[0].torque_at, notes=tuple(notes))


def _observed(
    session: Session, pulls: SessionPulls, curves: SetupCurves, count: int, notes: list[str]
) -> Observed | None:
    torques, kept = _true_torques(pulls, curves, notes)
    if not kept.any():
        notes.append(f"setup {curves.name} is left out: no pull of it can be used")
        return None
    mean = _mean(torques[kept])
    good = np.isfinite(mean)
    if good.sum() < 3 or np.ptp(curves.rpm[good]) < 500.0:
        notes.append(f"setup {curves.name} is left out: hardly any speed of it can be used")
        return None
    ends = curves.rpm[good][[0, -1]]
    rpm = np.round(np.linspace(ends[0] + WIDTH, ends[1] - WIDTH, count))
    factor = _factor(pulls, curves, kept)
    mixture, mixture_sd, late = _mixture(pulls, curves, rpm, notes)
    number = int(kept.sum())
    return Observed(
        name=curves.name,
        setup=replace(session.setup(curves.name).setup, air=_air(pulls, curves, kept, session, notes)),
        pulls=tuple(np.array(curves.pulls)[kept].tolist()),
        rpm=rpm,
        torque=_near(curves.rpm, mean, rpm) / factor,
        torque_sd=np.full(rpm.shape, math.hypot(_bin_noise(torques[kept]) / math.sqrt(number), MODEL_SCATTER)),
        gain_sd=math.hypot(pulls.levels.scatter / math.sqrt(number), USUAL.refit),
        factor=factor,
        mixture=mixture,
        mixture_sd=mixture_sd,
        mixture_late=late,
    )


def _true_torques(pulls: SessionPulls, curves: SetupCurves, notes: list[str]) -> tuple[np.ndarray, np.ndarray]:
    """Torque with drift taken out, NaN where a finding forbids it, (n_pull, n_bin); pulls kept (n_pull,)."""
    used = [k + 1 for k, use in enumerate(pulls.used) if use]
    drift = np.array([pulls.levels.drift[used.index(number)] for number in curves.pulls])
    torques = curves.torques * np.exp(-drift)[:, None]
    kept = np.ones(len(curves.pulls), dtype=bool)
    for finding in pulls.findings:
        if finding.strength < EVEN or finding.kind not in FALSE_TORQUE + NO_SUCH_ENGINE:
            continue
        rows = [n for n, number in enumerate(curves.pulls) if _concerns(finding, curves.name, number)]
        if not rows:
            continue
        whole = finding.pull is not None and (finding.kind in FALSE_PULL or finding.rpm is None)
        if whole and len(rows) < kept.sum():
            kept[rows] = False
        elif finding.rpm is not None:
            inside = (curves.rpm >= finding.rpm[0]) & (curves.rpm <= finding.rpm[1])
            torques[np.array(rows)[:, None], np.flatnonzero(inside)] = np.nan
        notes.append(f"not counted in setup {curves.name}: {finding.kind}{_where(finding, whole)}")
    return torques, kept & np.isfinite(torques).any(axis=1)


def _concerns(finding: Finding, setup: str, number: int) -> bool:
    return finding.pull == number if finding.pull is not None else finding.setup in (None, setup)


def _where(finding: Finding, whole: bool) -> str:
    if whole or finding.rpm is None:
        return f", pull {finding.pull}" if finding.pull else ""
    return f", {finding.rpm[0]:.0f} to {finding.rpm[1]:.0f} rpm"


def _near(at: np.ndarray, values: np.ndarray, rpm: np.ndarray) -> np.ndarray:
    """Mean of the bins near every speed; NaN where none is filled."""
    close = np.abs(at[:, None] - rpm[None, :]) <= NEAR
    return _mean(np.where(close, values[:, None], np.nan))


def _mean(table: np.ndarray) -> np.ndarray:
    """Mean of the known values down every column; NaN where there are none."""
    known = np.isfinite(table)
    count = known.sum(axis=0)
    return np.where(count > 0, np.where(known, table, 0.0).sum(axis=0) / np.maximum(count, 1), np.nan)


def _bin_noise(torques: np.ndarray) -> float:
    """Noise of one speed in one pull, its gain left out, shrunk to what is usual. [-]"""
    logs = np.log(torques)
    logs = logs - _mean(logs.T)[:, None]
    rest = logs - _mean(logs)
    freedom = (len(torques) - 1) * rest.shape[1] * WIDTH / USUAL.noise_length / 2.0
    seen = float(np.nanvar(rest)) * len(torques) / max(len(torques) - 1, 1)
    return math.sqrt((USUAL.freedom * USUAL.noise**2 + freedom * seen) / (USUAL.freedom + freedom))


def _factor(pulls: SessionPulls, curves: SetupCurves, kept: np.ndarray) -> float:
    return float(np.mean([pulls.weather[n - 1].factor for n in np.array(curves.pulls)[kept]]))


def _air(pulls: SessionPulls, curves: SetupCurves, kept: np.ndarray, session: Session, notes: list[str]) -> Air | None:
    """Mean air of the pulls of a setup; the sheet's where it was not written down."""
    days = [pulls.weather[n - 1] for n in np.array(curves.pulls)[kept]]
    known = [w for w in days if math.isfinite(w.pressure) and math.isfinite(w.temperature)]
    if not known:
        notes.append(f"the air of setup {curves.name} is not known: that of the sheet is taken")
        return session.setup(curves.name).setup.air
    return Air(
        temperature=float(np.mean([w.temperature for w in known])),
        pressure=float(np.mean([w.pressure for w in known])),
        humidity=float(np.mean([w.humidity for w in known])),
    )


def _mixture(
    pulls: SessionPulls, curves: SetupCurves, rpm: np.ndarray, notes: list[str]
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Lambda that can be trusted, its scatter, and what a late sensor does to it. (n_speed,) each"""
    nothing = np.full(rpm.shape, np.nan)
    if not np.isfinite(curves.mixture).any():
        notes.append(f"setup {curves.name} has no lambda")
        return nothing, nothing, nothing
    if pulls.sensor_doubted(curves.name):
        notes.append(f"lambda of setup {curves.name} is not used: outside air may reach the sensor")
        return nothing, nothing, nothing
    smooth = trend(curves.rpm, curves.mixture)
    values = np.where(_sensor_true(pulls, curves), curves.mixture, np.nan)
    rates = [abs(sweep_rate(pulls.pulls[n - 1])) for n in curves.pulls if pulls.pulls[n - 1].kind != "steps"]
    late = (float(np.mean(rates)) if rates else 0.0) * pulls.lag.total_sd * np.gradient(smooth, curves.rpm)
    late = np.interp(rpm, curves.rpm, np.nan_to_num(late))
    return _near(curves.rpm, values, rpm), np.full(rpm.shape, LAMBDA_SCATTER), late


def _sensor_true(pulls: SessionPulls, curves: SetupCurves) -> np.ndarray:
    """False where a finding says that lambda was not the engine's. (n_bin,)"""
    good = np.ones(curves.rpm.shape, dtype=bool)
    for finding in pulls.findings:
        bad = finding.kind in FALSE_LAMBDA + NO_SUCH_ENGINE and finding.strength >= EVEN and finding.rpm is not None
        if bad and finding.rpm and any(_concerns(finding, curves.name, n) for n in curves.pulls):
            good &= (curves.rpm < finding.rpm[0]) | (curves.rpm > finding.rpm[1])
    return good
