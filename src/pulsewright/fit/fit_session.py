"""Fit the model to all pulls of a session at once.

pulls -> observations -> mixture brought near -> best fit -> draws, each a run of the real model -> Fit
"""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import numpy as np

from pulsewright.bench.session import Session
from pulsewright.errors import InputError
from pulsewright.fit.echo_start import echo_way
from pulsewright.fit.error_curves import ErrorCurves, rows_of
from pulsewright.fit.evidence import Evidence
from pulsewright.fit.firing_start import firing_limit
from pulsewright.fit.fit import Fit, Followed, Identity, identity_of, load_fit, store_fit
from pulsewright.fit.gauss_newton import Best, Prior, Search, curvature, search_best, standard_prior
from pulsewright.fit.identifiability import learned
from pulsewright.fit.likely_draws import likely_draws
from pulsewright.fit.machine import FIT_LEVEL, Draw, FittedMachine
from pulsewright.fit.model_error import LAMBDA_ERROR, TORQUE_ERROR, points_of
from pulsewright.fit.observations import Observations, observations
from pulsewright.fit.session_model import PARTS, SessionModel
from pulsewright.fit.unknowns import COEFFICIENTS, FACTOR, Unknown, values_of
from pulsewright.many.kept_rows import KeptRows
from pulsewright.pulls.session_pulls import SessionPulls, read_session_pulls

DRAWS, SEED = 32, 1
WIDEST_Z = 3.0
NEAR_MIXTURE = Search(most_runs=4, longest_step=1.5, enough=1e-2)
FIRST_FIT = Search(most_runs=7, longest_step=1.0, enough=1e-2)  # slopes once
LAST_FIT = Search(most_runs=5, longest_step=0.7, enough=5e-3)  # slopes again, where the last one ended
LAST_ROUNDS = {True: 1, False: 4}  # of it at most: quick, or not
WORTH_IT = 0.01  # share of the cost that a round must have saved for another one
ECHO, RICH_LIMIT = "exhaust_way", "rich_limit"
FARTHEST = 1.5  # standard numbers from the prior at which a search starts
CORRECTIONS = 1  # rounds in which draws are put right by what the model says at them

Progress = Callable[[float, str], None]  # share done 0 to 1, what is being done


def fit_session(
    session: Session,
    pulls: SessionPulls | None = None,
    *,
    draws: int = DRAWS,
    seed: int = SEED,
    quick: bool = False,
    store: Path | None = None,
    progress: Progress | None = None,
    stopped: Callable[[], bool] | None = None,
) -> Fit:
    """The machine of a session, with its doubt.

    quick : draws by the straight-line picture of the model about the best fit, not runs of the model.
    store : folder that keeps finished runs and fits; a fit that is there is read, one that was stopped goes on.

    Raises
    ------
    CancelledError : within a second of `stopped` saying True.
    InputError : no pull is left to fit to.
    """
    seen = observations(session, pulls or read_session_pulls(session))
    return fit_observations(seen, draws=draws, seed=seed, quick=quick, store=store, progress=progress, stopped=stopped)


def fit_observations(
    seen: Observations,
    *,
    draws: int = DRAWS,
    seed: int = SEED,
    quick: bool = False,
    store: Path | None = None,
    progress: Progress | None = None,
    stopped: Callable[[], bool] | None = None,
) -> Fit:
    """The machine behind measured values; all else as `fit_session`."""
    begin = time.perf_counter()
    identity = identity_of(seen, seed=seed, draws=draws, quick=quick)
    path = None if store is None else _place_of(identity, store)
    kept = stored_fit(identity, store)
    if kept is not None:
        return kept
    if path is not None:
        path.parent.mkdir(parents=True, exist_ok=True)
    with KeptRows(None if path is None else path.with_name("kept-runs.log")) as runs:
        fit = _Fitter(seen, identity, runs, progress, stopped).fit()
    fit = replace(fit, seconds=time.perf_counter() - begin)
    if path is not None:
        store_fit(fit, path)
    return fit


def stored_fit(identity: Identity, store: Path | None) -> Fit | None:
    """The fit of this identity if the store holds it; None where there is none, or one of other code or seed."""
    if store is None or not _place_of(identity, store).exists():
        return None
    with suppress(InputError):
        return load_fit(_place_of(identity, store), identity)
    return None


def _place_of(identity: Identity, store: Path) -> Path:
    return store / f"{identity.sheets}-{identity.data}" / identity.name


class _Fitter:
    """One fit on its way."""

    def __init__(
        self, seen: Observations, identity: Identity, runs: KeptRows, progress: Progress | None,
        stopped: Callable[[], bool] | None,
    ) -> None:  # fmt: skip
        self.seen, self.identity, self.runs = seen, identity, runs
        self.points = points_of(seen.setups)
        self.model = SessionModel(
            seen, self.points, FIT_LEVEL, runs=runs, code=identity.code, stopped=stopped, done=self._one_more
        )
        self._progress, self._words, self._done = progress, "", 0
        self._expected = self._count()

    def fit(self) -> Fit:
        """All steps."""
        prior = prior_of(self.model.unknowns)
        self._say("bringing the mixture near")
        start = self._near_echo(self._near_mixture(prior))
        self._say("looking for the best fit")
        best = self._best(prior, start)
        self._say("drawing machines that the pulls leave possible")
        zs, values = self._draws(best, prior)
        return self._outcome(best, prior, zs, values)

    def _best(self, prior: Prior, start: np.ndarray) -> Best:
        """The best fit: slopes at the start, and again where they led, for as long as that pays."""
        model, evidence = self.model, self.points.evidence
        slopes = model.slopes(start, model.run(start))
        best = search_best(model.run, model.slopes, evidence, prior, start, FIRST_FIT, slopes)
        for _ in range(LAST_ROUNDS[self.identity.quick]):
            before = best.cost
            best = search_best(model.run, model.slopes, evidence, prior, best.z, LAST_FIT)
            if best.cost > (1.0 - WORTH_IT) * before:
                break
        return best

    def _near_mixture(self, prior: Prior) -> np.ndarray:
        """Standard numbers whose jets give about the measured lambda, so that the model fires; torque not asked."""
        rows = self.points.lambda_
        start = np.zeros(len(self.model.unknowns))
        if not rows.any():
            return start
        limit = self.model.names.index(RICH_LIMIT)
        start[limit] = max(firing_limit([o.mixture for o in self.seen.setups], self.model.unknowns[limit]), -FARTHEST)
        whole = self.points.evidence
        part = Evidence(measured=whole.measured[rows], error=whole.error[np.ix_(rows, rows)], noise=whole.noise[rows])
        slopes = self.model.first_slopes(whole.measured)[rows]
        return search_best(lambda z: self.model.run(z)[rows], lambda _z, _v: slopes, part, prior, start, NEAR_MIXTURE).z

    def _near_echo(self, start: np.ndarray) -> np.ndarray:
        """Standard numbers whose echo comes back about when the pulls say."""
        value, curves = self.model.run(start), []
        for n, o in enumerate(self.seen.setups):
            rows = (self.points.setup == n) & self.points.torque
            at = self.points.speed[rows]
            known = value[rows] > 0.0
            curves.append((o.rpm[at][known], o.torque[at][known], (value[rows] * o.torque[at])[known]))
        unknown = self.model.names.index(ECHO)
        moved = start.copy()
        moved[unknown] = np.clip(self.model.unknowns[unknown].standard(echo_way(curves)), -FARTHEST, FARTHEST)
        return moved

    def _draws(self, best: Best, prior: Prior) -> tuple[np.ndarray, np.ndarray]:
        """The best fit and further draws with their readings, one a row."""
        if self.identity.quick:

            def run_many(many: list[np.ndarray]) -> list[np.ndarray]:
                return [best.value + best.slopes @ (z - best.z) for z in many]
        else:

            def run_many(many: list[np.ndarray]) -> list[np.ndarray]:
                return self.model.run_many(best.z, many)

        rounds = 0 if self.identity.quick else CORRECTIONS
        drawn = likely_draws(
            run_many, best, self.points.evidence, prior, self.identity.draws - 1, self.identity.seed, rounds=rounds
        )
        return np.vstack([best.z, drawn.z]), np.vstack([best.value, drawn.value])

    def _outcome(self, best: Best, prior: Prior, zs: np.ndarray, values: np.ndarray) -> Fit:
        draws = self._machines(best, zs, values)
        covariance = np.linalg.inv(curvature(best.slopes, best.inverse_spread, prior))
        notes = [*self.seen.notes]
        if self.identity.quick:
            notes.append("quick: the draws are not runs of the model but follow a straight line from the best fit")
        return Fit(
            identity=self.identity,
            machine=FittedMachine(draws=draws),
            setups=tuple(self._followed(n, values, draws[0]) for n in range(len(self.seen.setups))),
            learned=learned(self.model.unknowns, best.z, covariance),
            elsewhere=(TORQUE_ERROR.elsewhere, LAMBDA_ERROR.elsewhere),
            notes=tuple(notes),
            runs=len(self.runs),
            seconds=0.0,
        )

    def _machines(self, best: Best, zs: np.ndarray, values: np.ndarray) -> tuple[Draw, ...]:
        """Draws with error curves: the mean one for the best fit, one drawn from what is left for the others."""
        random = np.random.default_rng([self.identity.seed, 1])
        points, (low, high) = self.points, self.seen.rpm_range
        at = np.unique(np.round(np.append(np.arange(low, high, 100.0), high)))
        torque = ErrorCurves(TORQUE_ERROR, points, points.torque, best.inverse_spread, values, random)
        mixture = ErrorCurves(LAMBDA_ERROR, points, points.lambda_, best.inverse_spread, values, random)
        of_torque, of_mixture = torque.common(at), mixture.common(at)
        of_exhaust = {int(n): torque.of_exhaust(at, n) for n in np.unique(points.exhaust)}
        exhaust_of = {o.name: int(points.exhaust[points.setup == n][0]) for n, o in enumerate(self.seen.setups)}
        return tuple(
            Draw(
                calibration=self.model.calibration(z), gain=v["gain"], lambda_bias=v["lambda_bias"],
                torque_error=rows_of(at, 1.0 + of_torque[n]), lambda_error=rows_of(at, np.exp(of_mixture[n])),
                exhaust_error=tuple((name, rows_of(at, 1.0 + of_exhaust[k][n])) for name, k in exhaust_of.items()),
            )
            for n, z in enumerate(zs)
            for v in [values_of(z, self.model.unknowns)]
        )  # fmt: skip

    def _followed(self, number: int, values: np.ndarray, best: Draw) -> Followed:
        o = self.seen.setups[number]

        def laid_out(of: np.ndarray) -> np.ndarray:
            rows = np.full((len(values), o.rpm.size), np.nan)
            mine = (self.points.setup == number) & of
            rows[:, self.points.speed[mine]] = values[:, mine]
            return rows

        return Followed(
            name=o.name,
            rpm=o.rpm,
            torque=o.torque * o.factor,
            model_torque=laid_out(self.points.torque) * o.torque * o.factor,
            mixture=o.mixture,
            model_mixture=np.exp(laid_out(self.points.lambda_)) * o.mixture,
            torque_error=best.error_at(o.rpm),
            lambda_error=best.lambda_error_at(o.rpm),
        )

    def _count(self) -> int:
        """Parts of sweeps that a fit of this size takes, about."""
        parts = PARTS * len(self.seen.setups)
        rounds = LAST_ROUNDS[self.identity.quick]
        search = (NEAR_MIXTURE.most_runs + FIRST_FIT.most_runs + 3 * rounds) * parts
        slopes = (1 + rounds) * (len(COEFFICIENTS) + 1) * parts
        draws = 0 if self.identity.quick else (CORRECTIONS + 1) * (self.identity.draws - 1) * parts
        return search + slopes + draws

    def _one_more(self) -> None:
        self._done += 1
        self._say(self._words)

    def _say(self, words: str) -> None:
        self._words = words
        if self._progress is not None:
            self._progress(min(0.99, self._done / self._expected), words)


def prior_of(unknowns: tuple[Unknown, ...]) -> Prior:
    """Belief in the standard numbers of unknowns, within their limits."""

    def limit(u: Unknown, value: float) -> float:
        known = value > 0.0 or u.kind != FACTOR
        return u.standard(value) if known else -WIDEST_Z

    low = np.array([max(limit(u, u.low), -WIDEST_Z) for u in unknowns])
    high = np.array([min(limit(u, u.high), WIDEST_Z) for u in unknowns])
    return standard_prior(low, high)
