"""What is proposed, and what is refused."""

import pytest
from tests.cheap_machine import TWIN, machine

from pulsewright.bench.session import SessionSetup
from pulsewright.cause.safety import LeanPoint
from pulsewright.remedies.catalogue import general_catalogue
from pulsewright.remedies.next_steps import _leaner, as_next, wave_candidates

BOOK = general_catalogue()
MUFFLED = TWIN.replace(
    '{ piece = "end", kind = "open" }',
    '{ piece = "muffler", body_length = "300 mm", body_bore = "90 mm", core_bore = "36 mm", core = "baffled" }, '
    '{ piece = "end", kind = "open" }',
)


def lean(value: float, trusted: bool = True) -> LeanPoint:
    return LeanPoint(value=value, rpm=5000.0, setup="A", gate=0.92, trusted=trusted)


def as_setup(text: str) -> SessionSetup:
    return SessionSetup(name="A", setup=machine(text).setup, changes=(), note="", based_on=None, text=text)


def test_an_echo_is_asked_by_a_plate_and_a_longer_pipe():
    words = [c.words for c in wave_candidates(as_setup(TWIN), BOOK)]
    assert words == ["plate that blocks 25 % of the bore, 40 mm before the pipe end", "pipes 150 mm longer"]


def test_nothing_is_pushed_into_a_muffler():
    assert wave_candidates(as_setup(MUFFLED), BOOK) == []


@pytest.mark.parametrize(("value", "leaner"), [(0.70, True), (0.86, True), (0.88, False), (0.95, False)])
def test_no_leaner_jet_where_two_steps_could_pass_the_gate(value: float, leaner: bool):
    assert ("step leaner" in _leaner(lean(value), BOOK).do) is leaner


@pytest.mark.parametrize("point", [None, lean(0.75, trusted=False)])
def test_an_unknown_mixture_never_justifies_leaning(point: LeanPoint | None):
    assert "true mixture first" in _leaner(point, BOOK).do


def test_the_words_of_the_catalogue_are_those_of_the_next_step():
    test = BOOK.test("true-mixture")
    assert _leaner(None, BOOK) == as_next(test)
