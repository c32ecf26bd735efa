"""When a run on the card counts as periodic."""

import math

import numpy as np
import pytest

from pulsewright.gpu.at_rest import arrived, left_to_go, left_under, work_left
from pulsewright.gpu.settle_many import Watch
from pulsewright.simulate.settle import Tolerance


def test_what_is_left_of_a_geometric_approach_is_seen():
    # 1, 1.5, 1.75 goes on to 2: as far again as the last step
    assert left_to_go([1.0, 1.5, 1.75]) == pytest.approx(0.25)
    # a slow approach has far more left than its last step
    assert left_to_go([1.0, 1.1, 1.19]) == pytest.approx(0.81, rel=1e-6)


def test_a_value_that_stands_still_has_arrived():
    assert left_to_go([2.0, 2.0, 2.0]) == 0.0


def test_a_value_that_hops_has_no_further_to_go_than_its_hop():
    assert left_to_go([1.0, 1.1, 1.0]) == pytest.approx(0.1)


def test_a_small_step_of_a_value_that_swings_is_no_sign_of_a_slow_way():
    swings = [1.0, 1.1, 1.1001, 1.06]
    assert left_to_go(swings[-3:]) > 0.03
    assert left_under(swings[:3]) == pytest.approx(0.1 * 0.5)
    assert left_under(swings[-3:]) == pytest.approx(0.0401)
    assert left_under(swings, contraction=0.8) == pytest.approx(4.0 * 0.1 * 0.64)


def test_no_fuel_twice_is_the_same():
    assert left_to_go([math.inf, math.inf, math.inf]) == 0.0
    assert left_to_go([1.0, 1.0, math.inf]) == math.inf


SMALL = np.array([20.0])
STILL = [np.full((1, 2), 0.06)] * 3  # fuel in the pipes that stays as it is


def cycle_of(work: tuple[float, float], firing: float = 1.0) -> Watch:
    """A cycle of one job with two cylinders of which only the work [J] and the firing are told."""
    both = np.ones((1, 2))
    return Watch(
        torque=np.array([sum(work) / (4.0 * math.pi)]), work=np.array([work]), firing=firing * both, starting=0 * both,
        trapped=both, trapped_lambda=both,
    )  # fmt: skip


def test_two_cylinders_that_move_against_each_other_have_not_arrived():
    history = [cycle_of((600.0 + move, 600.0 - move)) for move in (0.0, 10.0, 20.0)]
    assert not arrived(history, STILL, Tolerance(), SMALL)
    assert arrived([history[0]] * 3, STILL, Tolerance(), SMALL)


def test_a_share_of_firing_cycles_on_its_way_has_not_arrived():
    history = [cycle_of((600.0, 600.0), firing) for firing in (0.9, 0.95, 0.97)]
    assert not arrived(history, STILL, Tolerance(), SMALL)


def test_the_last_thousandth_of_cycles_that_do_not_fire_yet_counts():
    """Torque lacks two to three times as much, since what misfires also drags: found on random sheets from rest."""
    history = [cycle_of((600.0, 600.0), 1.0 - missed) for missed in (0.00243, 0.00146, 0.00087)]
    assert not arrived(history, STILL, Tolerance(), SMALL)
    history = [cycle_of((600.0, 600.0), 1.0 - missed) for missed in (0.00051, 0.00031, 0.00018)]
    assert arrived(history, STILL, Tolerance(), SMALL)


def test_one_small_step_behind_large_ones_may_be_chance():
    way = [cycle_of((600.0 + d, 600.0 + d)) for d in (40.0, 8.0, 0.1, 0.0)]
    assert work_left(way) == pytest.approx(2.0 * 32.0 * 0.25 / (4.0 * math.pi))
    assert work_left(way[2:]) == pytest.approx(2.0 * 0.1 / (4.0 * math.pi))


def test_gas_in_the_pipes_that_still_turns_over_has_not_arrived():
    fuel = [np.array([[0.06, share]]) for share in (0.05, 0.055, 0.0575)]
    assert not arrived([cycle_of((600.0, 600.0))] * 3, fuel, Tolerance(), SMALL)
