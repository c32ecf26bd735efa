"""Verdicts on simulated sessions of every kind of the trade, and how far the stated confidence can be trusted.

The sessions are tests/suspect_days.py: no engine model in them, a stand-in for what a fitted one would say. Their
mix is that of the priors. The weights were looked at on seeds below 200; what is checked here are others.
"""

from pathlib import Path

import numpy as np
import pytest
from tests import suspect_days
from tests.suspect_days import Suspect

from pulsewright.bench.session import read_session
from pulsewright.cause.causes import CANNOT_TELL
from pulsewright.cause.evidence import mixture_at
from pulsewright.cause.gather_evidence import gather_evidence
from pulsewright.cause.model_evidence import model_evidence
from pulsewright.cause.verdict import probabilities, verdict
from pulsewright.pulls.session_pulls import read_session_pulls

FIRST, COUNT = 200, 150
QUICK = ("exhaust_wave", "rich", "weak_spark", "slip_hole")
KINDS = [case.__name__ for _, case in suspect_days.CASES]


def judged(suspect: Suspect, seed: int, folder: Path) -> tuple[str, float]:
    """Verdict and confidence for one session, as `explain` finds them."""
    session = read_session(suspect.write(folder, seed))
    pulls = read_session_pulls(session)
    evidence = gather_evidence(session, pulls, suspect.sheet(seed))  # pyright: ignore[reportArgumentType]
    if pulls.hole is not None and pulls.hole.repeats:
        here = mixture_at(pulls.setups[pulls.baseline], pulls.hole.rpm_bottom)
        evidence += model_evidence(suspect.split(seed), pulls.hole.depth, here is None or here < 0.85, None)
    return verdict(probabilities(evidence))


def right(suspect: Suspect, word: str) -> bool:
    return word == suspect.cause or word in suspect.acceptable


def one_of(kind: str, seed: int, folder: Path) -> tuple[Suspect, str]:
    suspect = getattr(suspect_days, kind)(np.random.default_rng(seed))
    return suspect, judged(suspect, seed, folder)[0]


@pytest.mark.parametrize("kind", QUICK)
def test_a_plain_case_is_named(kind: str, tmp_path: Path):
    suspect, word = one_of(kind, 901, tmp_path / "day")
    assert right(suspect, word)


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_is_named_more_often_than_not_and_hardly_ever_mistaken(kind: str, tmp_path: Path):
    found = [one_of(kind, 910 + k, tmp_path / str(k)) for k in range(5)]
    named = sum(right(suspect, word) for suspect, word in found)
    wrong = sum(not right(suspect, word) and word != CANNOT_TELL for suspect, word in found)
    assert named >= 3
    assert wrong <= 1


@pytest.mark.slow
def test_the_stated_confidence_is_the_rate_of_right_verdicts(tmp_path: Path):
    rows = []
    for seed in range(FIRST, FIRST + COUNT):
        _, suspect = suspect_days.drawn(seed)
        word, sure = judged(suspect, seed, tmp_path / str(seed))
        if word != CANNOT_TELL:
            rows.append((sure, right(suspect, word)))
    sure, hits = np.array([r[0] for r in rows]), np.array([r[1] for r in rows])
    print(f"{len(rows)} of {COUNT} told; stated {sure.mean():.3f}, right {hits.mean():.3f}")
    assert len(rows) > 0.75 * COUNT
    assert abs(hits.mean() - sure.mean()) < 0.12
    for low, high in ((0.5, 0.75), (0.75, 0.9), (0.9, 1.0)):
        inside = (sure >= low) & (sure < high)
        print(f"  {low} to {high}: {inside.sum()}, stated {sure[inside].mean():.2f}, right {hits[inside].mean():.2f}")
        slack = 2.0 * np.sqrt(0.25 / max(inside.sum(), 1))  # two standard deviations of a rate of so many
        assert hits[inside].mean() > sure[inside].mean() - slack
