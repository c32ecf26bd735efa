"""Numbers as they stand in pictures and reports."""

import math

import pytest

from pulsewright.figures.numbers import nice_ticks, number, per_cent, rpm, signed


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (4700.0, 0, "4\u202f700"),
        (-3.25, 1, "−3.2"),
        (-0.01, 1, "0.0"),
        (0.845, 2, "0.84"),
        (None, 0, "not known"),
    ],
)
def test_number(value, digits, text):
    assert number(value, digits) == text


def test_a_number_that_is_none_is_never_printed_as_nan():
    assert number(math.nan) == signed(math.inf) == per_cent(math.nan) == "not known"


def test_sign_is_written_only_where_the_rounded_value_has_one():
    assert [signed(v, 1) for v in (2.04, -2.04, 0.04)] == ["+2.0", "−2.0", "0.0"]


def test_engine_speed_keeps_its_unit_on_the_line():
    assert rpm(3050.0) == "3\u202f050\u202frpm"


def test_ticks_are_round_and_inside():
    assert nice_ticks(2230.0, 4010.0, 5) == [2500.0, 3000.0, 3500.0, 4000.0]
    assert nice_ticks(1.0, 1.0) == [1.0]
