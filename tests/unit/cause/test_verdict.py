"""Evidence to probabilities to a verdict."""

import pytest

from pulsewright.cause.causes import CANNOT_TELL, EXHAUST_WAVE, MEASUREMENT, MIXTURE_RICH, NO_HOLE, PRIOR
from pulsewright.cause.evidence import Evidence
from pulsewright.cause.switches import CauseShare, Split
from pulsewright.cause.verdict import MOST_SURE, model_evidence, probabilities, verdict


def told(supports: str, against: str, weight: float) -> Evidence:
    return Evidence(what="seen", supports=supports, against=against, weight=weight)


def split(share: float, gain: float) -> Split:
    return Split(
        rpm=3000.0, measured_rpm=3000.0, as_built=100.0, all_off=100.0 / (1.0 - gain), single={}, richness=1.0,
        gain_fraction=gain, shares=(CauseShare(cause=EXHAUST_WAVE, share=share, low=0.0, high=1.0),),
    )  # fmt: skip


def test_priors_are_probabilities():
    assert sum(PRIOR.values()) == pytest.approx(1.0)


def test_probabilities_add_up_and_follow_the_odds():
    chances = probabilities([told(EXHAUST_WAVE, MIXTURE_RICH, 1.0)], hole=True)
    assert sum(chances.values()) == pytest.approx(1.0)
    # ten to one for the one and against the other: a hundred to one between them
    before = PRIOR[EXHAUST_WAVE] / PRIOR[MIXTURE_RICH]
    assert chances[EXHAUST_WAVE] / chances[MIXTURE_RICH] == pytest.approx(100.0 * before)


def test_without_evidence_nothing_is_claimed():
    word, _ = verdict(probabilities([], hole=True))
    assert word == CANNOT_TELL


def test_without_a_hole_no_wave_is_blamed():
    chances = probabilities([told(EXHAUST_WAVE, MIXTURE_RICH, 0.5)], hole=False)
    assert chances[EXHAUST_WAVE] < 0.05


def test_a_hole_is_never_called_no_hole():
    assert verdict(probabilities([told(NO_HOLE, MEASUREMENT, 1.0)], hole=True))[0] != NO_HOLE


def test_many_hints_never_make_certain():
    word, sure = verdict(probabilities([told(EXHAUST_WAVE, MEASUREMENT, 2.0)] * 9, hole=True))
    assert (word, sure) == (EXHAUST_WAVE, MOST_SURE)


def test_the_model_counts_by_its_share_and_by_what_comes_back():
    assert model_evidence(None) == []
    assert model_evidence(split(0.4, 0.2)) == []  # not even half of it
    strong, weak = model_evidence(split(0.9, 0.1))[0], model_evidence(split(0.9, 0.01))[0]
    assert strong.supports == EXHAUST_WAVE
    assert strong.weight == pytest.approx(0.9)
    assert weak.weight < 0.3 * strong.weight
