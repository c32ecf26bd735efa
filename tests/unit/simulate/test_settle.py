"""When a cycle counts as periodic."""

import math

import pytest

from pulsewright.simulate.settle import left_to_go
from pulsewright.simulate.sweep import split_by_cost


def test_what_is_left_of_a_geometric_approach_is_seen():
    # 1, 1.5, 1.75 goes on to 2: as far again as the last step
    assert left_to_go(1.0, 1.5, 1.75) == pytest.approx(0.25)
    # a slow approach has far more left than its last step
    assert left_to_go(1.0, 1.1, 1.19) == pytest.approx(0.81, rel=1e-6)


def test_a_value_that_stands_still_has_arrived():
    assert left_to_go(2.0, 2.0, 2.0) == 0.0


def test_a_value_that_hops_has_no_further_to_go_than_its_hop():
    assert left_to_go(1.0, 1.1, 1.0) == pytest.approx(0.1)


def test_no_fuel_twice_is_the_same():
    assert left_to_go(math.inf, math.inf, math.inf) == 0.0
    assert left_to_go(1.0, 1.0, math.inf) == math.inf


@pytest.mark.parametrize("parts", [1, 2, 3, 50])
def test_speeds_are_split_without_loss_into_neighbours(parts: int):
    speeds = [float(s) for s in range(1500, 6001, 250)]
    chunks = split_by_cost(speeds, parts)
    assert sorted(s for chunk in chunks for s in chunk) == speeds
    assert len(chunks) <= parts
    assert all(chunk == sorted(chunk, reverse=True) for chunk in chunks)
