"""What the report says that the pulls told of the machine."""

from types import SimpleNamespace

import numpy as np

from pulsewright.fit.identifiability import learned
from pulsewright.fit.unknowns import TRIM_NAMES, UNKNOWNS
from pulsewright.report.tell import _fit


def told_with(sure: set[str]):
    """The story of a fit in which some unknowns are told to a tenth of their doubt and no other at all."""
    spread = np.array([0.1 if u.name in sure else 1.0 for u in UNKNOWNS])
    rows = learned(UNKNOWNS, np.zeros(len(UNKNOWNS)), np.diag(spread**2))
    fit = SimpleNamespace(setups=(), learned=rows)
    return _fit(SimpleNamespace(fit=fit, machine=SimpleNamespace(draws=(1, 2))))  # type: ignore[arg-type]


def test_the_knots_of_the_trim_are_said_once():
    told = told_with({"friction", *TRIM_NAMES})
    assert told is not None
    assert told.learned == ("friction of engine and drive", "mixture trim over the whole speed range")
    assert not any("trim" in what for what in told.open)


def test_a_trim_that_is_told_in_part_says_so_on_both_sides():
    told = told_with({TRIM_NAMES[0], TRIM_NAMES[1]})
    assert told is not None
    assert told.learned == ("mixture trim over part of the speed range",)
    assert told.open[-1] == "mixture trim over part of the speed range"
