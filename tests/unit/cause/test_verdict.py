"""Evidence to probabilities to a verdict."""

import pytest

from pulsewright.cause.causes import CANNOT_TELL, EXHAUST_WAVE, MEASUREMENT, MIXTURE, MIXTURE_RICH, NO_HOLE, PRIOR
from pulsewright.cause.evidence import Evidence
from pulsewright.cause.model_evidence import model_evidence
from pulsewright.cause.shares import CauseShare
from pulsewright.cause.switches import Split
from pulsewright.cause.verdict import MOST_SURE, probabilities, verdict


def told(**says: float) -> Evidence:
    return Evidence(what="seen", says={name.replace("_", " "): value for name, value in says.items()})


def split(shares: dict[str, float], gain: float, *, fitted: bool = True) -> Split:
    return Split(
        rpm=3000.0, measured_rpm=3000.0, as_built=100.0, all_off=100.0 / (1.0 - gain), single={}, richness=1.0,
        pulsation=2.0, gain_fraction=gain, fitted=fitted, draws=8,
        shares=tuple(CauseShare(cause=c, share=s, low=0.0, high=1.0) for c, s in shares.items()),
    )  # fmt: skip


def test_priors_are_probabilities():
    assert sum(PRIOR.values()) == pytest.approx(1.0)


def test_an_observation_names_the_pair_that_it_tells_apart():
    seen = told(exhaust_wave=0.4, mixture_rich=-1.4, ignition=-1.2)
    assert (seen.supports, seen.against) == (EXHAUST_WAVE, MIXTURE_RICH)
    assert seen.weight == pytest.approx(1.8)


def test_probabilities_add_up_and_follow_the_odds():
    chances = probabilities([told(exhaust_wave=0.5, mixture_rich=-0.5)])
    assert sum(chances.values()) == pytest.approx(1.0)
    before = PRIOR[EXHAUST_WAVE] / PRIOR[MIXTURE_RICH]
    assert chances[EXHAUST_WAVE] / chances[MIXTURE_RICH] == pytest.approx(before * 10.0)


def test_without_evidence_nothing_is_claimed():
    assert verdict(probabilities([]))[0] == CANNOT_TELL


def test_many_hints_never_make_certain():
    rows = [told(exhaust_wave=1.0, measurement=-1.0)] * 9
    assert verdict(probabilities(rows)) == (EXHAUST_WAVE, MOST_SURE)


def test_the_model_speaks_for_what_brings_the_measured_loss_back():
    (seen,) = model_evidence(split({EXHAUST_WAVE: 0.9, MIXTURE: 0.1}, 0.14), 0.15, True, 0.0)
    assert seen.supports == EXHAUST_WAVE
    (mixed,) = model_evidence(split({EXHAUST_WAVE: 0.2, MIXTURE: 0.8}, 0.14), 0.15, True, 0.0)
    assert mixed.supports == MIXTURE_RICH


def test_a_loss_that_the_model_does_not_show_speaks_for_what_has_no_switch():
    (seen,) = model_evidence(split({EXHAUST_WAVE: 0.9, MIXTURE: 0.1}, 0.03), 0.20, True, 0.85)
    assert seen.says["ignition"] > 0.0 > seen.says[EXHAUST_WAVE]


def test_an_unfitted_model_counts_for_less():
    sizes = [
        model_evidence(split({EXHAUST_WAVE: 0.9}, 0.14, fitted=fitted), 0.15, True, 0.0)[0].weight
        for fitted in (True, False)
    ]
    assert sizes[1] == pytest.approx(0.5 * sizes[0])


def test_without_a_hole_or_a_split_the_model_says_nothing():
    assert model_evidence(None, 0.1, True, None) == []
    assert model_evidence(split({EXHAUST_WAVE: 1.0}, 0.1), None, True, None) == []


def test_no_hole_is_not_claimed_against_a_hole_that_repeats():
    from pulsewright.cause.hole_evidence import AS_A_HOLE

    chances = probabilities([Evidence(what="hole", says=AS_A_HOLE)])
    assert chances[NO_HOLE] < 0.02
    assert chances[EXHAUST_WAVE] > chances[MEASUREMENT]
