"""Search over single changes and pairs: all on the best draw, the better ones on a few, the best on all.

Every run is kept by key (trials.py), so a search that was stopped goes on where it was and ends the same.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from pulsewright.bench.setup import Setup
from pulsewright.cause.safety import SENSOR_MARGIN
from pulsewright.errors import LimitError
from pulsewright.fit.machine import Draw
from pulsewright.remedies.candidates import Candidate, Machine, pair, sensible_pair, single_candidates
from pulsewright.remedies.catalogue import Catalogue
from pulsewright.remedies.forecast import Forecast, forecast, usable_draws
from pulsewright.remedies.gates import LEAN, UNKNOWN, refusals
from pulsewright.remedies.ranking import CURES, Judged, front
from pulsewright.remedies.reference import Reference
from pulsewright.remedies.trials import TrialCurves, Trials

FEW = 3  # draws for the second look
SECOND_SHARE = 0.3  # of the candidates that get one
MOST_FINAL = 14  # candidates on all draws
MOST_DRAWS = 16  # of the last look
UPPER_OF_NOTHING = 1.015  # upper end of the lambda ratio of a change that does nothing, on one draw
OVER_PRICE, CURE_WORTH = 20.0, 5.0  # [% of torque] to put first the pairs that may pass and that cure
BATCH = 8  # candidates handed out at a time, so that progress moves

Progress = Callable[[str, int, int], None]  # stage, done, in all


@dataclass(frozen=True, slots=True, kw_only=True)
class Search:
    """What a search works with."""

    machine: Machine
    reference: Reference
    catalogue: Catalogue
    first: Trials  # coarse, for the first two looks
    final: Trials
    verdict: str
    pulled: tuple[Setup, ...] = ()  # other machines that have pulls: what they stood of knock has been stood
    most: int = 200  # candidates
    progress: Progress = lambda *_: None

    def run(self) -> list[Judged]:
        """Every candidate judged on as many draws as it was worth; see `forecast.draws`.

        Raises CancelledError soon after the trials are stopped, LimitError where the model gives no answer for the
        machine as it is.
        """
        before = self._before(self.first, 1)
        singles = single_candidates(self.machine, self.catalogue)[: self.most]
        judged = self._judge(self.first, singles, 1, before, "first look")
        pairs = self._pairs(judged)[: self.most - len(singles)]
        judged += self._judge(self.first, pairs, 1, before, "first look at pairs")
        second = max(MOST_FINAL, int(SECOND_SHARE * len(judged)))
        judged = self._again(self.first, judged, second, FEW, "second look")
        return self._again(self.final, judged, MOST_FINAL, self.draws, "all draws")

    @property
    def draws(self) -> int:
        """How many draws the last look uses."""
        return min(MOST_DRAWS, len(self.final.machine.draws))

    def judge_all(self, candidates: Sequence[Candidate]) -> list[Judged]:
        """Candidates on all draws."""
        return self._judge(self.final, candidates, self.draws, self._before(self.final, self.draws), "all draws")

    def _again(self, trials: Trials, judged: list[Judged], most: int, draws: int, stage: str) -> list[Judged]:
        """The most promising once more on more draws; the others as they were."""
        chosen = self._promising(judged)[:most]
        better = self._judge(trials, [j.candidate for j in chosen], draws, self._before(trials, draws), stage)
        left = {id(j) for j in chosen}
        return [*better, *(j for j in judged if id(j) not in left)]

    def _before(self, trials: Trials, draws: int) -> TrialCurves:
        curves = trials.run([self.machine.setup], draws)[0]
        if not usable_draws(curves).any():
            raise LimitError(
                f"the model gives no answer for setup {self.machine.name} as it is",
                hint="look at `pulsewright predict` of its sheet",
            )
        return curves

    def _judge(
        self, trials: Trials, candidates: Sequence[Candidate], draws: int, before: TrialCurves, stage: str
    ) -> list[Judged]:
        judged: list[Judged] = []
        stood = self.stood(trials, draws)
        for start in range(0, len(candidates), BATCH):
            batch = candidates[start : start + BATCH]
            self.progress(stage, start, len(candidates))
            for each, curves in zip(batch, trials.run([c.setup for c in batch], draws), strict=True):
                judged.append(self._judged(each, before, curves, stood))
        return judged

    def stood(self, trials: Trials, draws: int) -> np.ndarray:
        """Highest end-gas integral of the other machines that have pulls, nan without any. (draws, speeds)"""
        curves = trials.run(list(self.pulled), draws) if self.pulled else []
        return np.fmax.reduce([np.full((draws, len(trials.speeds)), np.nan), *(c.knock for c in curves)])

    def _judged(self, candidate: Candidate, before: TrialCurves, after: TrialCurves, stood: np.ndarray) -> Judged:
        found = forecast_on_draws(self.reference, self.final.machine.draws, before, after, stood)
        return Judged(candidate=candidate, forecast=found, refusals=refusals(self.reference, found))

    def _pairs(self, singles: list[Judged]) -> list[Candidate]:
        """Pairs of the better singles, most promising first: gains added, what the gates want to see first."""
        found = []
        for k, one in enumerate(singles):
            for other in singles[k + 1 :]:
                if sensible_pair(one.candidate, other.candidate):
                    found.append((self._hope(one, other), one.candidate, other.candidate))
        found.sort(key=lambda row: -row[0])
        made = (pair(self.machine, one, other) for _, one, other in found[: self.most])
        return [each for each in made if each is not None]

    def _hope(self, one: Judged, other: Judged) -> float:
        """What a pair promises: merits added, less where the two may be refused together. [%]

        A jet that costs torque by itself may be what lets a pipe end pass the lean gate, so no single is left out.
        """
        lean = one.forecast.lean_high * other.forecast.leaning_high / UPPER_OF_NOTHING
        known = np.isfinite(lean)
        over = float(lean[known].max()) + SENSOR_MARGIN - self.reference.lean_gate if known.any() else 0.0
        cures = one.candidate.groups | other.candidate.groups in CURES.get(self.verdict, ())
        gates = {r.gate for j in (one, other) for r in j.refusals} - {LEAN, UNKNOWN}
        price = OVER_PRICE * ((over > 0.0) + bool(gates)) + 100.0 * max(0.0, over)
        return one.merit + other.merit - price + CURE_WORTH * cures

    def _promising(self, judged: list[Judged]) -> list[Judged]:
        """Best first: cures before others, what passes the gates before what does not, then merit."""
        cures = CURES.get(self.verdict, ())

        def order(j: Judged) -> tuple[int, float]:
            gates = {r.gate for r in j.refusals} - {UNKNOWN}
            other = j.candidate.groups not in cures
            return bool(gates) + other, -j.merit

        ranked = sorted(judged, key=order)
        first = front([j for j in ranked if order(j)[0] == 0])
        chosen = {id(j) for j in first}
        return [*sorted(first, key=order), *(j for j in ranked if id(j) not in chosen)]


def forecast_on_draws(
    reference: Reference, draws: Sequence[Draw], before: TrialCurves, after: TrialCurves, stood: np.ndarray
) -> Forecast:
    """A forecast from the draws on which the machine as it is can be computed; `stood` as for `forecast`."""
    good = usable_draws(before)
    bias = np.array([d.lambda_bias for d in draws[: len(good)]])
    return forecast(reference, only(before, good), only(after, good), bias[good], stood[good])


def only(curves: TrialCurves, draws: np.ndarray) -> TrialCurves:
    """The curves on some draws. draws : (draws,) bool"""
    rows = (curves.torque, curves.leanest, curves.trapped, curves.sensor, curves.knock)
    torque, leanest, trapped, sensor, knock = (table[draws] for table in rows)
    return TrialCurves(rpm=curves.rpm, torque=torque, leanest=leanest, trapped=trapped, sensor=sensor, knock=knock)
