"""Shapley values against a published example.

Source: S. C. Littlechild and G. Owen, Management Science 20 (1973) 370, the airport game; the costs
8, 11, 13, 18 with shares 2, 3, 4, 9 are the usual textbook numbers (from memory, checked by hand below).
"""

import pytest

from pulsewright.cause.shapley import shapley, subsets

COSTS = {"A": 8.0, "B": 11.0, "C": 13.0, "D": 18.0}


def airport() -> dict[frozenset[str], float]:
    """A runway must be as long as the largest aircraft in the group needs."""
    return {group: max((COSTS[m] for m in group), default=0.0) for group in subsets(list(COSTS))}


def test_airport_game():
    # 8 shared by four, 3 more by three, 2 more by two, 5 more by one
    assert shapley(list(COSTS), airport()) == pytest.approx({"A": 2.0, "B": 3.0, "C": 4.0, "D": 9.0})


def test_shares_add_up_to_the_whole_gain():
    value = airport()
    assert sum(shapley(list(COSTS), value).values()) == pytest.approx(value[frozenset(COSTS)])


def test_a_member_that_changes_nothing_gets_nothing():
    value = {g: (10.0 if "A" in g else 0.0) for g in subsets(["A", "B"])}
    assert shapley(["A", "B"], value) == pytest.approx({"A": 10.0, "B": 0.0})
