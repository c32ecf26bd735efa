"""A machine past the red gate is told to go richer before anything else, whatever the verdict."""

import numpy as np
import pytest
from tests.cheap_machine import Model, reference
from tests.unit.remedies.test_search import search

from pulsewright.cause.causes import EXHAUST_WAVE, IGNITION, MIXTURE_LEAN, NO_HOLE, STARVATION
from pulsewright.remedies.advice_words import sentence
from pulsewright.remedies.as_it_stands import TOO_LEAN, AsItStands
from pulsewright.remedies.catalogue import general_catalogue
from pulsewright.remedies.gates import LEAN
from pulsewright.remedies.next_pull import NextPull, richer_first
from pulsewright.remedies.ranking import FRONT, placed

RICHER = general_catalogue().test("richer").do
STANDS = AsItStands(TOO_LEAN, "It runs too lean as it stands: lambda 1.08 at 4300 rpm. No full-throttle pull.")
OTHER_TEST = NextPull(do="repeat", expect="", bits=0.5, gain=0.0, minutes=10.0, tells_apart=())


@pytest.mark.parametrize("verdict", [EXHAUST_WAVE, IGNITION, NO_HOLE, MIXTURE_LEAN])
def test_the_advice_begins_with_it_and_names_the_step(verdict: str):
    tests = richer_first(general_catalogue(), verdict, [OTHER_TEST])
    said = sentence(verdict, reference(mixture=1.08), [], tests, STANDS)
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
    said = sentence(STARVATION, reference(mixture=1.08), [], tests, STANDS)
    assert said.startswith("It runs too lean as it stands")
    assert said.endswith("Next: repeat.")


def test_a_change_that_cures_is_named_after_the_danger():
    judged = placed(search(Model()).run(), EXHAUST_WAVE)
    chosen = next(j for j in judged if j.standing == FRONT)
    said = sentence(EXHAUST_WAVE, reference(), judged, [OTHER_TEST], STANDS)
    assert said.startswith(STANDS.text)
    assert chosen.candidate.words[1:] in said


def test_no_step_of_the_kit_passes_on_a_very_lean_machine_and_a_little_lean_one_is_cured():
    very = placed(search(Model(), verdict=MIXTURE_LEAN, mixture=1.25).run(), MIXTURE_LEAN)
    assert not any(j.standing == FRONT for j in very)
    assert any(r.gate == LEAN for j in very for r in j.refusals)
    little = search(Model(), verdict=MIXTURE_LEAN, mixture=0.94).run()
    richer = [j for j in little if not j.refusals and np.all(j.forecast.sensor < 0.92)]
    assert richer
    assert all("main jet" in j.candidate.words for j in richer)
