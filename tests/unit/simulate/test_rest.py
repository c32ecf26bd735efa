"""How far rest is, whether it is reached, and whether it will ever be."""

import math
from dataclasses import dataclass, field, replace

import numpy as np
import pytest

from pulsewright.simulate.rest import (
    ERROR_PER_CHANGE,
    ERROR_PER_MOVE,
    MIXTURE_PER_TORQUE,
    by_turns,
    error_left,
    last_move,
    mean_torque,
    restless,
    steady,
)

WITHIN = 1e-3
FIRING, MISSING = np.ones(2), np.array([1.0, 0.97])


@dataclass
class Cycle:
    """What is watched of a cycle of two cylinders."""

    torque: float
    trapped: np.ndarray = field(default_factory=lambda: np.full(2, 4e-4))
    trapped_lambda: np.ndarray = field(default_factory=lambda: np.full(2, 0.9))
    firing: np.ndarray = field(default_factory=lambda: np.ones(2))


def test_what_is_left_of_a_geometric_approach_is_seen():
    # changes of 8, 4, 2: the next ones add up to as much again as the last
    assert error_left([8e-3, 4e-3, 2e-3], 0.0, FIRING) == pytest.approx(ERROR_PER_CHANGE * 2e-3 / (1.0 - 0.5))
    # a slow approach has far more left than its last change
    assert error_left([1e-3, 9e-4], 0.0, FIRING) == pytest.approx(10.0 * ERROR_PER_CHANGE * 9e-4)


def test_changes_that_grow_are_not_taken_for_an_approach():
    assert error_left([1e-3, 2e-3], 0.0, FIRING) == pytest.approx(10.0 * ERROR_PER_CHANGE * 2e-3)


def test_a_first_cycle_that_changes_nothing_has_arrived():
    assert error_left([0.0], math.nan, FIRING) == 0.0
    assert error_left([0.0, 0.0], 0.0, FIRING) == 0.0


def test_a_single_cycle_from_a_drawn_start_is_believed_half():
    assert error_left([1e-3], math.nan, FIRING) == pytest.approx(4.0 * ERROR_PER_CHANGE * 1e-3)


def test_torque_that_moves_has_not_arrived_however_little_the_state_changed():
    assert error_left([1e-5, 1e-6], 0.01, FIRING) == pytest.approx(0.01 * ERROR_PER_MOVE)


def test_a_cylinder_that_misses_has_further_to_go():
    assert error_left([1e-2, 1e-3], 0.0, MISSING) > 2.0 * error_left([1e-2, 1e-3], 0.0, FIRING)


def test_a_dead_cylinder_has_furthest_to_go():
    """Its raw mixture creeps through pipes that it shares: on random sheets 0.1 % of torque and more was left."""
    dead = error_left([1e-2, 1e-3], 0.0, np.array([1.0, 0.02]))
    assert dead > 3.0 * error_left([1e-2, 1e-3], 0.0, MISSING)


def test_the_last_move_is_the_largest_of_torque_mass_and_mixture():
    still = Cycle(100.0)
    assert math.isnan(last_move([still], 20.0))
    assert last_move([still, Cycle(99.0)], 20.0) == pytest.approx(1.0 / 99.0)
    assert last_move([Cycle(1.0), Cycle(0.0)], 20.0) == pytest.approx(1.0 / 20.0)  # near zero torque: of one bar
    assert last_move([still, Cycle(100.0, trapped=np.array([4e-4, 4.2e-4]))], 20.0) == pytest.approx(0.05)
    leaner = Cycle(100.0, trapped_lambda=np.array([0.9, 0.94]))
    assert last_move([still, leaner], 20.0) == pytest.approx(0.04 / MIXTURE_PER_TORQUE)
    dry = Cycle(100.0, trapped_lambda=np.array([0.9, np.inf]))
    assert last_move([still, dry], 20.0) == math.inf
    assert last_move([dry, dry], 20.0) == 0.0


@pytest.mark.parametrize("turn", [(90.0, 110.0), (90.0, 100.0, 113.0)])
def test_strong_and_weak_cycles_by_turns_are_told_from_rest_and_from_drift(turn: tuple[float, ...]):
    cycles = [Cycle(turn[n % len(turn)]) for n in range(6)]
    assert by_turns(cycles, WITHIN, 20.0)
    assert not steady(cycles, WITHIN, 20.0)
    assert not by_turns(cycles[1:], WITHIN, 20.0)  # five are too few to tell
    assert mean_torque(cycles) == pytest.approx(np.mean(turn))
    shrinking = [Cycle(100.0 + (-0.9) ** n * 10.0) for n in range(6)]  # on its way to rest
    assert not by_turns(shrinking, WITHIN, 20.0)
    leaning = [replace(c, trapped_lambda=c.trapped_lambda + 1e-3 * n) for n, c in enumerate(cycles)]
    assert not by_turns(leaning, WITHIN, 20.0)


def test_a_swing_of_less_than_a_hundredth_is_left_to_the_mixing():
    assert not by_turns([Cycle(100.0 + 0.4 * (-1) ** n) for n in range(6)], WITHIN, 20.0)


def test_changes_that_do_not_shrink_over_many_cycles_are_restless():
    hopping = [1.0, 0.2, 0.6, 0.4] * 16
    assert restless(hopping)
    assert not restless(hopping[1:])  # too few to tell
    assert not restless([0.97**n for n in range(96)])  # slow, and on its way


def test_what_dies_away_slowly_or_drifts_is_no_turn():
    """Twos of a tolerance apart, as every drift is within the tolerance over two cycles."""
    drift = [Cycle(100.0 + 0.04 * n) for n in range(6)]
    assert not by_turns(drift, WITHIN, 20.0)
    assert not steady(drift, WITHIN, 20.0)


@pytest.mark.parametrize("turn", [(100.0,), (99.98, 100.02), (99.98, 100.0, 100.03)])
def test_what_goes_to_and_fro_within_the_tolerance_stays_there(turn: tuple[float, ...]):
    assert steady([Cycle(turn[n % len(turn)]) for n in range(6)], WITHIN, 20.0)


def test_what_creeps_on_within_the_tolerance_has_not_arrived():
    """A box or a muffler that fills by a twenty-fifth a cycle: 0.3 % of torque is still to go."""
    assert not steady([Cycle(100.0 - 0.4 * 0.96**n) for n in range(6)], WITHIN, 20.0)
    assert steady([Cycle(100.0 - 0.04 * 0.96**n) for n in range(6)], WITHIN, 20.0)
