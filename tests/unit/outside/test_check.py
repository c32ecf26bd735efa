"""A check passes, fails and refuses to pass for what could not be computed."""

import math

import pytest

from pulsewright.errors import UsageError
from pulsewright.outside.check import Check, worst
from pulsewright.outside.groups import GROUPS, chosen


def made(**changes) -> Check:
    return Check(**{"what": "w", "source": "s", "expected": 2.0, "got": 2.0, "tolerance": 0.1, **changes})


@pytest.mark.parametrize(
    ("kind", "got", "passed"),
    [
        ("relative", 2.19, True),
        ("relative", 2.21, False),
        ("absolute", 1.91, True),
        ("absolute", 1.89, False),
        ("at least", 1.91, True),
        ("at least", 1.89, False),
        ("at least", 50.0, True),
        ("at most", 2.09, True),
        ("at most", 2.11, False),
    ],
)
def test_kinds(kind: str, got: float, passed: bool):
    assert made(kind=kind, got=got).passed is passed


@pytest.mark.parametrize("kind", ["relative", "absolute", "at least", "at most"])
def test_not_a_number_never_passes(kind: str):
    assert not made(kind=kind, got=math.nan).passed


def test_worst_names_the_row_that_agrees_least():
    rows = [("a", 1.0, 1.01), ("b", 1.0, 1.05), ("c", 1.0, 0.98)]
    check = worst("things", "s", rows, 0.1)
    assert check.what == "things: worst of 3, b"
    assert check.got == 1.05
    assert "c" in worst("things", "s", [*rows[:2], ("c", 1.0, math.nan)], 0.1).what


def test_an_empty_table_is_no_pass():
    with pytest.raises(ValueError, match="nothing to compare"):
        worst("things", "s", [], 0.1)


def test_groups_are_chosen_by_name_and_a_slip_is_told():
    assert chosen() == list(GROUPS)
    assert chosen(["weather"]) == ["weather"]
    with pytest.raises(UsageError, match="weathr"):
        chosen(["weathr"])
