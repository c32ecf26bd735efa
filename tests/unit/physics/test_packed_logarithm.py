"""The logarithm and exponential that loops take side by side, against those of the C library."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pulsewright.physics.packed_logarithm import packed_exp, packed_log

WITHIN = 4.0 * np.finfo(float).eps  # a few units in the last place


@given(st.floats(1e-300, 1e300))
def test_the_logarithm_is_that_of_the_library(x: float):
    assert packed_log(x) == pytest.approx(math.log(x), rel=WITHIN, abs=WITHIN)


@given(st.floats(0.5, 2.0))
def test_near_one_the_logarithm_keeps_its_digits(x: float):
    assert packed_log(x) == pytest.approx(math.log(x), rel=WITHIN, abs=0.0)


@given(st.floats(-700.0, 700.0))
def test_the_exponential_is_that_of_the_library(x: float):
    assert packed_exp(x) == pytest.approx(math.exp(x), rel=WITHIN, abs=0.0)


def test_nothing_to_do_is_exact():
    assert packed_log(1.0) == 0.0
    assert packed_exp(0.0) == 1.0
