"""The next pull: the test with most value per minute of dyno time.

Value is what the test is expected to tell about the cause, in bits, plus what it is expected to gain; a bit is
taken to be worth 3 % of torque in the riding band (an exchange of ours). Gain counts over the best setup that
was pulled and that no gate refuses. Time is that of the change and of three pulls. A change that a gate refuses
is no test, and neither is a part that has yet to be bought, nor one whose pulls could not be told from pulls that
are there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from pulsewright.cause.causes import STARVATION
from pulsewright.pulls.session_pulls import SessionPulls
from pulsewright.remedies.catalogue import TO_BUY, Catalogue, Test
from pulsewright.remedies.hypotheses import FEW, PULLS, Expected, asked_speeds, expected_outcomes, without_echo
from pulsewright.remedies.information import bits_of_yes_or_no, expected_bits
from pulsewright.remedies.ranking import Judged
from pulsewright.remedies.reference import Reference
from pulsewright.remedies.search import Search
from pulsewright.remedies.trials import TrialCurves

BIT_WORTH = 3.0  # [% of torque] of one bit about the cause
PULL_MINUTES = 4.0  # a pull and cooling down after it, common practice
LONGEST = 60.0  # [min] of a change that is made as a test
LEAST_GAIN, LEAST_BITS = 1.0, 0.01  # [%], [bit] a pull must promise one of them: less torque cannot be shown by it
TORQUE_ALIKE, MIXTURE_ALIKE = 0.01, 0.02  # [-] in the mean: what pulls of one day scatter, common practice
MOST_TRIED = 8  # changes whose outcomes are worked out under every cause


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NextPull:
    """One thing that could be done next, with its worth."""

    do: str
    expect: str
    bits: float  # about the cause, expected
    gain: float  # [%] of torque in the riding band over the best setup that was pulled, expected over all causes
    minutes: float  # with its pulls
    tells_apart: tuple[str, ...]
    judged: Judged | None = None  # None: nothing on the sheet changes
    expected: tuple[Expected, ...] = ()

    @property
    def starts_from(self) -> str:
        """Setup with pulls that the test changes; "": the baseline, or nothing is changed."""
        return self.judged.starts_from if self.judged else ""

    @property
    def value(self) -> float:
        """Worth of a minute. [% of torque a minute]"""
        return (BIT_WORTH * self.bits + max(self.gain, 0.0)) / max(self.minutes, 1.0)


def next_pulls(search: Search, judged: Sequence[Judged], chances: Mapping[str, float], seed: int) -> list[NextPull]:
    """Changes as tests, most value a minute first."""
    tried = _worth_trying(judged)
    if not tried:
        return []
    better = [
        *(j for j in tried if j.starts_from),
        *search.judge_all([j.candidate for j in tried if not j.starts_from]),
    ]
    better = [b for b in better if not b.refusals]
    starts = {b.starts_from for b in better}
    before = {"": search.machine.setup} | {j.pulled: j.candidate.setup for j in judged if j.pulled in starts - {""}}
    setups = [*before.values(), *(b.candidate.setup for b in better)]
    built = search.final.run(setups, FEW)
    shown = search.final.run(search.pulled, FEW)
    free = without_echo(search.final, setups)
    at = list(before)
    reached = max((j.forecast.gain.value for j in judged if j.pulled and not j.refusals), default=0.0)
    found = []
    for k, each in enumerate(better, len(before)):
        if any(_pulls_alike(search.reference, built[k], other) for other in shown):
            continue
        start = at.index(each.starts_from)
        outcomes = expected_outcomes(
            each.start or search.reference, dict(chances), each.candidate, (built[start], built[k]),
            (free[start], free[k]),
        )  # fmt: skip
        found.append(_as_test(search, each, outcomes, max(reached, 0.0), seed))
    worth = [t for t in found if t.gain > LEAST_GAIN or t.bits >= LEAST_BITS]
    return sorted(worth, key=lambda t: -t.value)


def measuring_tests(
    catalogue: Catalogue, pulls: SessionPulls, verdict: str, chances: Mapping[str, float]
) -> list[NextPull]:
    """Tests that change nothing on the sheet: those that answer a finding, then those that fit the verdict.

    Of each kind most value a minute first: what was found is put right before anything is only repeated.
    """
    kinds = {f.kind for f in pulls.findings}
    answering = [t for t in catalogue.tests if t.finding in kinds]
    fitting = [t for t in catalogue.tests if verdict in t.verdicts and t not in answering]
    by_value = [sorted((_plain(t, chances) for t in some), key=lambda t: -t.value) for some in (answering, fitting)]
    return [*by_value[0], *by_value[1]]


def richer_first(catalogue: Catalogue, verdict: str, tests: Sequence[NextPull]) -> list[NextPull]:
    """The same tests behind the step that a machine past the red gate needs before any other.

    Where fuel does not reach the bowl no jet makes it richer, and the tests of the supply stay first.
    """
    if verdict == STARVATION:
        return list(tests)
    richer = catalogue.test("richer")
    return [_plain(richer, {}), *(t for t in tests if t.do != richer.do)]


def _pulls_alike(reference: Reference, one: TrialCurves, other: TrialCurves) -> bool:
    """True where three pulls of either setup could hardly be told apart in the riding band."""
    low, high = reference.rpm[reference.band][[0, -1]]
    inside = (one.rpm >= low) & (one.rpm <= high)

    def apart(name: str) -> float:
        ratio = (getattr(one, name) / getattr(other, name))[:, inside]
        return float(np.mean(np.abs(np.log(np.where(ratio > 0.0, ratio, np.nan)))))

    return apart("torque") < TORQUE_ALIKE and apart("trapped") < MIXTURE_ALIKE


def _worth_trying(judged: Sequence[Judged]) -> list[Judged]:
    """The better changes that can be made here and now, every catalogue entry once."""
    can = [j for j in judged if not j.refusals and not j.pulled and _at_hand(j)]
    chosen: dict[tuple[str, ...], Judged] = {}
    for j in sorted(can, key=lambda j: -j.merit):
        chosen.setdefault(j.candidate.entries, j)
    return list(chosen.values())[:MOST_TRIED]


def _at_hand(j: Judged) -> bool:
    return j.candidate.stock != TO_BUY and j.candidate.reversible and j.candidate.minutes <= LONGEST


def _as_test(search: Search, judged: Judged, outcomes: list[Expected], reached: float, seed: int) -> NextPull:
    at = asked_speeds(judged.start or search.reference)
    f = judged.forecast
    gain = 100.0 * sum(e.chance * float(np.expm1(e.mean[: at.size].mean())) for e in outcomes)
    if judged.starts_from:  # most of it was measured
        gain = f.gain.value
    place = f"{search.reference.bottom:.0f} rpm" if search.reference.bottom else "the riding band"
    change = f.bottom or f.gain
    return NextPull(
        do=judged.candidate.words,
        expect=f"torque {change.value:+.0f} % ({change.low:+.0f} to {change.high:+.0f}) at {place} by the "
        + ("fitted model" if search.final.machine.fitted else "model as the sheet has it"),
        bits=expected_bits(outcomes, seed),
        gain=gain - reached,
        minutes=judged.candidate.minutes + PULLS * PULL_MINUTES,
        tells_apart=_apart(outcomes, at.size),
        judged=judged,
        expected=tuple(outcomes),
    )


def _apart(outcomes: Sequence[Expected], size: int) -> tuple[str, ...]:
    """The likeliest cause, and the likeliest of those that expect something else of it."""
    first, *others = sorted(outcomes, key=lambda e: -e.chance)
    for other in others:
        off = np.abs(first.mean - other.mean)[:size]
        if np.max(off / np.sqrt(np.diag(first.covariance)[:size])) > 1.0:
            return first.cause, other.cause
    return ()


def _plain(test: Test, chances: Mapping[str, float]) -> NextPull:
    suspect = test.tells_apart[0] if test.tells_apart else ""
    return NextPull(
        do=test.do, expect=test.expect, bits=bits_of_yes_or_no(chances, suspect, test.sure) if suspect else 0.0,
        gain=0.0, minutes=test.minutes, tells_apart=test.tells_apart,
    )  # fmt: skip
