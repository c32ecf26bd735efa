"""When a cycle counts as periodic."""

import numpy as np
import pytest
from tests.cheap_machine import SUCTIONS, TWIN

from pulsewright.bench.sheet import setup_from_text
from pulsewright.bench.throttle import with_throttle
from pulsewright.network.case import build_case
from pulsewright.network.options import Options
from pulsewright.simulate.carried_state import carried_state
from pulsewright.simulate.settle import ERROR_PER_CHANGE, Tolerance, error_left, patient
from pulsewright.simulate.state_change import PISTON_SHARE, ChangeScale
from pulsewright.simulate.sweep import split_by_cost

FIRING, MISSING = np.ones(2), np.array([1.0, 0.97])


def test_what_is_left_of_a_geometric_approach_is_seen():
    # changes of 8, 4, 2: the next ones add up to as much again as the last
    assert error_left([8e-3, 4e-3, 2e-3], FIRING) == pytest.approx(ERROR_PER_CHANGE * 2e-3 / (1.0 - 0.5))
    # a slow approach has far more left than its last change
    assert error_left([1e-3, 9e-4], FIRING) == pytest.approx(10.0 * ERROR_PER_CHANGE * 9e-4)


def test_changes_that_grow_are_not_taken_for_an_approach():
    assert error_left([1e-3, 2e-3], FIRING) == pytest.approx(10.0 * ERROR_PER_CHANGE * 2e-3)


def test_a_first_cycle_that_changes_nothing_has_arrived():
    assert error_left([0.0], FIRING) == 0.0
    assert error_left([0.0, 0.0], FIRING) == 0.0


def test_a_cylinder_that_misses_has_further_to_go():
    assert error_left([1e-2, 1e-3], MISSING) > 2.0 * error_left([1e-2, 1e-3], FIRING)


def test_a_dead_cylinder_has_furthest_to_go():
    """Its raw mixture creeps through pipes that it shares: on random sheets 0.1 % of torque and more was left."""
    assert error_left([1e-2, 1e-3], np.array([1.0, 0.02])) > 3.0 * error_left([1e-2, 1e-3], MISSING)


@pytest.mark.parametrize("parts", [1, 2, 3, 50])
def test_speeds_are_split_without_loss_into_neighbours(parts: int):
    speeds = [float(s) for s in range(1500, 6001, 250)]
    chunks = split_by_cost(speeds, parts)
    assert sorted(s for chunk in chunks for s in chunk) == speeds
    assert len(chunks) <= parts
    assert all(chunk == sorted(chunk, reverse=True) for chunk in chunks)


def test_a_throttle_nearly_shut_may_take_longer():
    """Little gas moves in a cycle, so pipes take many to be filled anew: more are allowed, no other limit moves."""
    usual = Tolerance(torque=2e-3, most_cycles=10)
    machine = setup_from_text(TWIN, "twin")
    assert patient(usual, machine) == usual
    assert patient(usual, with_throttle(machine, 0.5)) == usual
    assert patient(usual, with_throttle(machine, 0.05)) == Tolerance(torque=2e-3, most_cycles=40)


def test_a_creeping_piston_has_not_arrived():
    """Of a constant velocity carburettor: the same gas, and a piston that still rises by a tenth of its way."""
    case = build_case(setup_from_text(SUCTIONS, "twin"), Options(grid=2.0), 3000.0)
    before = carried_state(case)
    case.arrays["carburettors"]["lift"] += 0.1 * case.arrays["carburettors"]["bore"]
    assert np.linalg.norm(ChangeScale(case).change(before, carried_state(case))) == pytest.approx(0.1 * PISTON_SHARE)
    plain = build_case(setup_from_text(TWIN, "twin"), Options(grid=2.0), 3000.0)
    before = carried_state(plain)
    plain.arrays["carburettors"]["lift"] += 1e-3  # of a carburettor without a piston it means nothing
    assert not ChangeScale(plain).change(before, carried_state(plain)).any()
