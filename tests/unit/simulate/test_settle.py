"""When a cycle counts as periodic."""

import math

import numpy as np
import pytest

from pulsewright.simulate.cycle import CycleResult
from pulsewright.simulate.settle import Tolerance, arrived, left_to_go, settled, shown_contraction, work_left
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


def cycle_of(work: tuple[float, float], firing: float = 1.0) -> CycleResult:
    """A cycle of two cylinders of which only the work [J] is told."""
    steady = np.ones(2)
    return CycleResult(
        failed=False, torque=sum(work) / (4.0 * math.pi), indicated=0.0, friction=0.0, work=np.array(work),
        firing=np.full(2, firing), trapped=steady, trapped_lambda=steady, delivered_lambda=1.0, residual=steady,
        fresh_air=1.0, fuel=1.0,
    )  # fmt: skip


def test_two_cylinders_that_move_against_each_other_have_not_arrived():
    history = [cycle_of((600.0 + move, 600.0 - move)) for move in (0.0, 10.0, 20.0)]
    assert settled(history, Tolerance())
    assert not arrived(history, Tolerance(), None, 20.0)
    assert arrived([history[0]] * 3, Tolerance(), None, 20.0)


def test_a_share_of_firing_cycles_on_its_way_has_not_arrived():
    history = [cycle_of((600.0, 600.0), firing) for firing in (0.9, 0.95, 0.97)]
    assert not arrived(history, Tolerance(), None, 20.0)


def test_two_cycles_are_enough_only_for_those_who_were_told_how_fast_it_goes():
    history = [cycle_of((600.0, 600.0)), cycle_of((600.2, 600.2))]
    assert not arrived(history, Tolerance(), None, 20.0)
    assert arrived(history, Tolerance(), 0.5, 20.0)
    assert not arrived(history, Tolerance(), 0.9, 20.0)


def test_a_contraction_is_shown_by_clear_steps_only():
    shrinking = [cycle_of((600.0 - d, 600.0 - d)) for d in (128.0, 64.0, 32.0, 16.0)]
    assert shown_contraction(shrinking) == pytest.approx(1.25 * 0.5)
    assert shown_contraction([cycle_of((600.0, 600.0))] * 3) is None


def test_one_small_step_behind_large_ones_may_be_chance():
    way = [cycle_of((600.0 + d, 600.0 + d)) for d in (40.0, 8.0, 0.1, 0.0)]
    assert work_left(way, 0.5) == pytest.approx(2.0 * 32.0 * 0.25 / (4.0 * math.pi))
    assert work_left(way[2:], 0.5) == pytest.approx(2.0 * 0.1 / (4.0 * math.pi))
