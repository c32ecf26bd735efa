"""What new pulls say of what was expected: where the model was right, where not, and for which cause they speak."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from pulsewright.errors import InputError
from pulsewright.pulls.setup_curves import SetupCurves
from pulsewright.pulls.trend import trend
from pulsewright.remedies.expected_pull import ExpectedPull
from pulsewright.remedies.hypotheses import Expected
from pulsewright.remedies.information import log_likelihoods

FORMAT = "pulsewright judgement 1"
RIGHT, PARTLY, WRONG = "as expected", "partly as expected", "not as expected"
RIGHT_FROM, PARTLY_FROM = 0.65, 0.35  # share of the riding band inside the 80 % band
LEAST_BINS = 5
MOST_ODDS = 3.0  # log10; one set of pulls never says more


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """One curve against its band."""

    inside: float  # share of bins in the band, over the riding band
    inside_all: float  # over all bins
    mean_off: float  # measured less expected, mean over the riding band: % of torque, or lambda
    outside: tuple[tuple[float, float, str], ...]  # stretches of speed and "above" or "below"


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """A pull judged against what was expected of it."""

    setup: str
    do: str
    word: str  # RIGHT, PARTLY or WRONG
    torque: Agreement
    mixture: Agreement | None
    odds: dict[str, float]  # log10 odds for each cause that these pulls add
    chances: dict[str, float]  # of every cause after them, those before being what the forecast was made with
    text: str

    def as_json(self) -> dict[str, Any]:
        """Plain data without the format."""
        return {
            "setup": self.setup, "do": self.do, "word": self.word, "text": self.text,
            "torque": _agreement(self.torque), "lambda": self.mixture and _agreement(self.mixture),
            "odds": {c: round(v, 2) for c, v in self.odds.items()},
            "chances": {c: round(v, 3) for c, v in self.chances.items()},
        }  # fmt: skip


def judge(expected: ExpectedPull, curves: SetupCurves) -> Judgement:
    """Judge the pulls of a setup.

    Raises InputError where the pulls and the forecast have too few speeds in common.
    """
    torque = _smooth(curves.rpm, curves.torque, expected.rpm)
    agreed = _agree(expected, torque, expected.torque, expected.torque_low, expected.torque_high, relative=True)
    if agreed is None:
        raise InputError(
            f"the pulls of setup '{curves.name}' and the forecast have too few speeds in common",
            hint="pull over the speeds of the earlier pulls",
        )
    lambdas = _smooth(curves.rpm, curves.mixture, expected.rpm)
    mixture = _agree(
        expected, lambdas, expected.mixture, expected.mixture_low, expected.mixture_high, relative=False
    )  # fmt: skip
    odds, chances = _causes(expected, torque, lambdas)
    word = RIGHT if agreed.inside >= RIGHT_FROM else PARTLY if agreed.inside >= PARTLY_FROM else WRONG
    return Judgement(
        setup=curves.name, do=expected.do, word=word, torque=agreed, mixture=mixture, odds=odds, chances=chances,
        text=_sentence(word, agreed, odds),
    )  # fmt: skip


def _smooth(at: np.ndarray, values: np.ndarray, rpm: np.ndarray) -> np.ndarray:
    """Trend through bins, on other bins; nan where the pulls do not reach. (n,)"""
    curve = trend(at, values)
    known = np.isfinite(curve)
    if known.sum() < 2:
        return np.full(rpm.shape, np.nan)
    return np.interp(rpm, at[known], curve[known], left=np.nan, right=np.nan)


def _agree(
    e: ExpectedPull, measured: np.ndarray, middle: np.ndarray, low: np.ndarray, high: np.ndarray, *, relative: bool
) -> Agreement | None:
    known = np.isfinite(measured) & np.isfinite(middle)
    band = known & (e.rpm >= e.band[0]) & (e.rpm <= e.band[1])
    if band.sum() < LEAST_BINS:
        return None
    inside = (measured >= low) & (measured <= high)
    off = 100.0 * (measured / middle - 1.0) if relative else measured - middle
    side = np.where(known & ~inside, np.where(measured > middle, 1, -1), 0)
    return Agreement(
        inside=float(inside[band].mean()), inside_all=float(inside[known].mean()), mean_off=float(off[band].mean()),
        outside=tuple(_stretches(e.rpm, side)),
    )  # fmt: skip


def _stretches(rpm: np.ndarray, side: np.ndarray) -> Sequence[tuple[float, float, str]]:
    found, start = [], 0
    for k in range(1, side.size + 1):
        if k == side.size or side[k] != side[start]:
            if side[start]:
                found.append((float(rpm[start]), float(rpm[k - 1]), "above" if side[start] > 0 else "below"))
            start = k
    return found


def _causes(e: ExpectedPull, torque: np.ndarray, mixture: np.ndarray) -> tuple[dict[str, float], dict[str, float]]:
    """log10 odds that the outcome adds for every cause, and the chances after it."""
    logs = [np.log(torque / e.before), np.log(mixture / e.mixture_before)]
    size = e.causes[0].mean.size if e.causes else 0
    outcome = np.concatenate([np.interp(e.asked, e.rpm, row) for row in logs])[:size]
    known = np.isfinite(outcome)
    before = {c.cause: c.chance for c in e.causes}
    if not known.any():
        return dict.fromkeys(before, 0.0), before
    part = [
        Expected(cause=c.cause, chance=c.chance, mean=c.mean[known], covariance=c.covariance[np.ix_(known, known)])
        for c in e.causes
    ]
    log = log_likelihoods(part, outcome[None, known])[0]
    weight = np.exp(log - log.max())
    odds = {}
    for k, cause in enumerate(part):
        others = [n for n in range(len(part)) if n != k]
        beside = np.array([part[n].chance for n in others])
        rest = float((weight[others] * beside).sum() / beside.sum()) if others else weight[k]
        ratio = np.log10(max(weight[k], 1e-30) / max(rest, 1e-30))
        odds[cause.cause] = float(np.clip(ratio, -MOST_ODDS, MOST_ODDS))
    after = {c: p * 10.0 ** odds[c] / (1.0 - p + p * 10.0 ** odds[c]) for c, p in before.items()}
    total = sum(after.values())
    return odds, {c: p / total for c, p in after.items()}


def _sentence(word: str, torque: Agreement, odds: dict[str, float]) -> str:
    off = f"torque is {abs(torque.mean_off):.1f} % {'above' if torque.mean_off > 0.0 else 'below'} the expected mean"
    text = f"{word}: {100.0 * torque.inside:.0f} % of the riding band lies in the 80 % band, {off}"
    best = max(odds, key=lambda c: odds[c]) if odds else ""
    if best and odds[best] > 0.2:
        return f"{text}; it speaks for {best} ({odds[best]:+.1f} in log10 of the odds)"
    return f"{text}; it speaks for no cause"


def _agreement(a: Agreement) -> dict[str, Any]:
    return {
        "inside_band": round(a.inside, 3), "inside_all": round(a.inside_all, 3), "mean_off": round(a.mean_off, 3),
        "outside": [{"rpm_from": round(f), "rpm_to": round(t), "side": side} for f, t, side in a.outside],
    }  # fmt: skip
