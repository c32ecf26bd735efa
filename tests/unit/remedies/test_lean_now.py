"""A machine past the red gate is told to go richer before anything else, whatever the verdict."""

import numpy as np
import pytest
from tests.cheap_machine import Model, reference
from tests.unit.remedies.test_search import search

from pulsewright.cause.causes import EXHAUST_WAVE, IGNITION, MIXTURE_LEAN, NO_HOLE, STARVATION
from pulsewright.remedies.advice_words import sentence
from pulsewright.remedies.as_it_stands import INSIDE, AsItStands
from pulsewright.remedies.catalogue import general_catalogue
from pulsewright.remedies.gates import LEAN
from pulsewright.remedies.lean_now import lean_now
from pulsewright.remedies.next_pull import NextPull, richer_first
from pulsewright.remedies.ranking import FRONT, placed

RICHER = general_catalogue().test("richer").do
FINE = AsItStands(INSIDE, "")
OTHER_TEST = NextPull(do="repeat", expect="", bits=0.5, gain=0.0, minutes=10.0, tells_apart=())


def lean_at(rpm: float, mixture: float) -> np.ndarray:
    """Lambda 0.86 everywhere but near one speed, on the bins of the cheap machine."""
    at = np.arange(2000.0, 6301.0, 50.0)
    return np.where(np.abs(at - rpm) < 60.0, mixture, 0.86)


def test_the_leanest_reading_past_the_red_gate_is_named():
    now = lean_now(reference(mixture=lean_at(4300.0, 1.06)))
    assert now is not None
    assert (now.mixture, now.rpm) == (pytest.approx(1.06), pytest.approx(4300.0, abs=60.0))
    assert "1.06" in now.text
    assert "4300 rpm" in now.text or "4250 rpm" in now.text


@pytest.mark.parametrize(
    "of", [{"mixture": 0.97}, {"mixture": 1.06, "known": False}, {"mixture": lean_at(6250.0, 1.2)}]
)
def test_what_is_below_the_gate_or_not_read_does_not_count(of):
    """The last one lies above the reach of the pulls."""
    assert lean_now(reference(**of)) is None


@pytest.mark.parametrize("verdict", [EXHAUST_WAVE, IGNITION, NO_HOLE, MIXTURE_LEAN])
def test_the_advice_begins_with_it_and_names_the_step(verdict: str):
    tests = richer_first(general_catalogue(), verdict, [OTHER_TEST])
    said = sentence(verdict, reference(mixture=1.08), [], tests, FINE)
    assert said.startswith("It runs too lean as it stands: lambda 1.08")
    assert RICHER in said
    assert "Leave it" not in said
    assert [t.do for t in tests] == [RICHER, "repeat"]


def test_a_step_that_is_there_already_is_not_named_twice():
    once = richer_first(general_catalogue(), MIXTURE_LEAN, [OTHER_TEST])
    twice = richer_first(general_catalogue(), MIXTURE_LEAN, once)
    assert [t.do for t in twice] == [RICHER, "repeat"]


def test_starved_of_fuel_no_jet_helps_and_the_supply_is_looked_at_first():
    tests = richer_first(general_catalogue(), STARVATION, [OTHER_TEST])
    assert [t.do for t in tests] == ["repeat"]
    said = sentence(STARVATION, reference(mixture=1.08), [], tests, FINE)
    assert said.startswith("It runs too lean as it stands")
    assert said.endswith("Next: repeat.")


def test_no_step_of_the_kit_passes_on_a_very_lean_machine_and_a_little_lean_one_is_cured():
    very = placed(search(Model(), verdict=MIXTURE_LEAN, mixture=1.25).run(), MIXTURE_LEAN)
    assert not any(j.standing == FRONT for j in very)
    assert any(r.gate == LEAN for j in very for r in j.refusals)
    little = search(Model(), verdict=MIXTURE_LEAN, mixture=0.94).run()
    richer = [j for j in little if not j.refusals and np.all(j.forecast.sensor < 0.92)]
    assert richer
    assert all("main jet" in j.candidate.words for j in richer)
