"""What a change would do to torque and lambda if each cause were the one: the same draws, differently switched.

exhaust wave   the machine as fitted.
mixture        the exhaust's echo plays no part (non-reflecting ends); what the hole lacks comes back as lambda
               nears the best.
others         the exhaust's echo plays no part: the change acts through filling and mixture alone. A change of the
               intake does nothing unless the intake wave or a restriction is to blame.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pulsewright.bench.setup import Setup
from pulsewright.cause.causes import EXHAUST_WAVE, INTAKE_WAVE, MIXTURE_LEAN, MIXTURE_RICH, RESTRICTION
from pulsewright.network.options import BEST_TORQUE_MIXTURE, NON_REFLECTING, Options
from pulsewright.pulls.hole import deepest_place
from pulsewright.pulls.scatter_prior import USUAL, believed_noise
from pulsewright.remedies.candidates import Candidate
from pulsewright.remedies.catalogue import FUEL, INTAKE
from pulsewright.remedies.forecast import LAMBDA_DOUBT, LAMBDA_SHARE, TORQUE_DOUBT, TORQUE_SHARE
from pulsewright.remedies.reference import Reference
from pulsewright.remedies.trials import TrialCurves, Trials

FEW = 3  # draws; a cause's own spread is small beside the difference of causes
LOOK_AT = 7  # speeds over the riding band at which a pull is asked
LAMBDA_LEVEL, LAMBDA_NOISE = 0.007, 0.005  # a pull's lambda: all of it, and from speed to speed; common practice
PULLS = 3  # of the new setup and of the old one
LEAST_CHANCE = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """Outcome of a pull if one cause is the one: log of torque over before, then of lambda over before."""

    cause: str
    chance: float
    mean: np.ndarray  # (n,)
    covariance: np.ndarray  # (n, n) of draws, model and pulls together


def asked_speeds(reference: Reference) -> np.ndarray:
    """Speeds over the riding band, the bottom of the hole among them. [rpm]"""
    inside = reference.rpm[reference.band]
    at = np.linspace(inside[0], inside[-1], LOOK_AT)
    if reference.bottom is not None:
        at[int(np.argmin(np.abs(at - reference.bottom)))] = reference.bottom
    return at


def without_echo(trials: Trials, setups: Sequence[Setup]) -> list[TrialCurves]:
    """Setups with the exhaust's echo off, on a few draws."""
    return trials.run(setups, FEW, Options(exhaust_ends=NON_REFLECTING))


def expected_outcomes(
    reference: Reference,
    chances: dict[str, float],
    candidate: Candidate,
    built: tuple[TrialCurves, TrialCurves],
    free: tuple[TrialCurves, TrialCurves],
) -> list[Expected]:
    """What each cause that has a chance expects of a pull with the candidate.

    built, free : before and after the change, as built and with the exhaust's echo off.
    """
    at = asked_speeds(reference)
    sees_lambda = not reference.mixture_unknown
    whole, plain = _logs(built, at), _logs(free, at)
    lost = _lost(reference, at)
    found = []
    likely = {cause: chance for cause, chance in chances.items() if chance >= LEAST_CHANCE}
    for cause, chance in likely.items():
        torque, mixture = _under(cause, candidate, whole, plain, lost, np.interp(at, reference.rpm, reference.mixture))
        rows = np.hstack([torque, mixture]) if sees_lambda else torque
        found.append(
            Expected(
                cause=cause,
                chance=chance / sum(likely.values()),
                mean=rows.mean(axis=0),
                covariance=_covariance(rows, at, candidate, sees_lambda),
            )
        )
    return found


def _logs(pair: tuple[TrialCurves, TrialCurves], at: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Logs of torque and lambda after over before, at speeds. (draws, speeds) each; 0 where there is no answer"""
    before, after = pair

    def log(name: str) -> np.ndarray:
        ratio = getattr(after, name) / getattr(before, name)
        values = np.log(np.where(np.isfinite(ratio) & (ratio > 0.0), ratio, 1.0))
        return np.array([np.interp(at, before.rpm, row) for row in values])

    sensed = np.isfinite(before.sensor).all() and np.isfinite(after.sensor).all()
    return log("torque"), log("sensor" if sensed else "trapped")


def _under(
    cause: str,
    candidate: Candidate,
    whole: tuple[np.ndarray, np.ndarray],
    plain: tuple[np.ndarray, np.ndarray],
    lost: np.ndarray,
    mixture: np.ndarray,
) -> tuple[np.ndarray, np.ndarray]:
    if cause == EXHAUST_WAVE:
        return whole
    if candidate.groups == {INTAKE}:
        return whole if cause in (INTAKE_WAVE, RESTRICTION) else (0.0 * whole[0], 0.0 * whole[1])
    torque, lean = plain
    if cause in (MIXTURE_RICH, MIXTURE_LEAN):
        off = np.abs(mixture / BEST_TORQUE_MIXTURE - 1.0)
        left = np.abs(mixture * np.exp(lean) / BEST_TORQUE_MIXTURE - 1.0)
        cured = np.where(off > 0.01, np.clip(1.0 - left / np.maximum(off, 0.01), -1.0, 1.0), 0.0)
        torque = torque + cured * np.nan_to_num(lost)
    return torque, lean


def _lost(reference: Reference, at: np.ndarray) -> np.ndarray:
    """Log of what the hole lacks under a straight line between its shoulders. (speeds,)"""
    reach = reference.in_reach
    rpm, torque = reference.rpm[reach], reference.torque[reach]
    place = deepest_place(rpm, torque) if reference.bottom is not None else None
    if place is None:
        return np.zeros(at.shape)
    feet = [place.left, place.right]
    line = np.interp(at, rpm[feet], torque[feet])
    inside = (at > rpm[place.left]) & (at < rpm[place.right])
    return np.where(inside, np.maximum(np.log(line / np.interp(at, rpm, torque)), 0.0), 0.0)


def _covariance(rows: np.ndarray, at: np.ndarray, candidate: Candidate, sees_lambda: bool) -> np.ndarray:
    """Of draws, of the model's change and of the mean of pulls on both sides."""
    around = rows - rows.mean(axis=0)
    total = around.T @ around / max(len(rows) - 1, 1)
    n = at.size
    refit = USUAL.refit if candidate.groups - {FUEL} else 0.0
    level = 2.0 * USUAL.gain**2 / PULLS + refit**2
    total[:n, :n] += level + 2.0 * believed_noise(at, USUAL) / PULLS
    total[:n, :n] += np.diag(np.hypot(TORQUE_DOUBT, TORQUE_SHARE * rows.mean(axis=0)[:n]) ** 2)
    if sees_lambda:
        total[n:, n:] += 2.0 * (LAMBDA_LEVEL**2 + LAMBDA_NOISE**2 * np.eye(n)) / PULLS
        total[n:, n:] += np.diag(np.hypot(LAMBDA_DOUBT, LAMBDA_SHARE * rows.mean(axis=0)[n:]) ** 2)
    return total
