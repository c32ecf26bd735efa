"""When a cycle counts as periodic."""

import math
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tests.cheap_machine import SUCTIONS, TWIN

from pulsewright.bench.changes import changed_text
from pulsewright.bench.sheet import read_setup, setup_from_text
from pulsewright.bench.throttle import with_throttle
from pulsewright.kernel.layout import VOLUME
from pulsewright.network.case import Case, build_case
from pulsewright.network.options import Options
from pulsewright.simulate.carried_state import carried_state
from pulsewright.simulate.cycle import run_cycle
from pulsewright.simulate.settle import (
    BY_TURNS,
    ERROR_PER_CHANGE,
    ERROR_PER_MOVE,
    MIXTURE_PER_TORQUE,
    NO_TWO_ALIKE,
    SWINGS,
    Tolerance,
    by_turns,
    error_left,
    last_move,
    mean_torque,
    outcome_at_no_rest,
    patient,
    restless,
    settle,
    small_torque_of,
    steady,
)
from pulsewright.simulate.state_change import PISTON_SHARE, ChangeScale
from pulsewright.simulate.sweep import split_by_cost

EXAMPLE = Path(__file__).parents[3] / "examples" / "narrow-twin" / "setup.toml"
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
    assert last_move([dry, dry], 20.0) == math.inf


@pytest.mark.parametrize("turn", [(90.0, 110.0), (90.0, 100.0, 113.0)])
def test_strong_and_weak_cycles_by_turns_are_told_from_rest_and_from_drift(turn: tuple[float, ...]):
    cycles = [Cycle(turn[n % len(turn)]) for n in range(6)]
    assert by_turns(cycles, Tolerance(), 20.0)
    assert not steady(cycles, Tolerance(), 20.0)
    assert not by_turns(cycles[1:], Tolerance(), 20.0)  # five are too few to tell
    assert mean_torque(cycles) == pytest.approx(np.mean(turn))
    shrinking = [Cycle(100.0 + (-0.9) ** n * 10.0) for n in range(6)]  # on its way to rest
    assert not by_turns(shrinking, Tolerance(), 20.0)
    leaning = [replace(c, trapped_lambda=c.trapped_lambda + 1e-3 * n) for n, c in enumerate(cycles)]
    assert not by_turns(leaning, Tolerance(), 20.0)


def test_a_swing_of_less_than_a_hundredth_is_left_to_the_mixing():
    assert not by_turns([Cycle(100.0 + 0.4 * (-1) ** n) for n in range(6)], Tolerance(), 20.0)


def test_turns_with_missing_cycles_are_told_as_firing_and_misfiring():
    assert outcome_at_no_rest(FIRING, BY_TURNS) == BY_TURNS
    assert outcome_at_no_rest(MISSING, BY_TURNS) == SWINGS


def test_what_dies_away_slowly_or_drifts_is_no_turn():
    """Twos of a tolerance apart, as every drift is within the tolerance over two cycles."""
    drift = [Cycle(100.0 + 0.04 * n) for n in range(6)]
    assert not by_turns(drift, Tolerance(), 20.0)
    assert not steady(drift, Tolerance(), 20.0)


def test_a_small_throttle_ends_in_turns_with_their_mean():
    """Burned gas of a strong cycle weakens the next: the example alternates when it turns over nearly shut."""
    machine = with_throttle(read_setup(EXAMPLE), 0.08)
    case = build_case(machine, Options(), 1750.0)
    found = settle(case, 1750.0, patient(Tolerance(), machine))
    assert found.outcome == BY_TURNS
    assert found.cycles < 60
    after = [run_cycle(case).torque for _ in range(6)]
    assert np.ptp(after) > 0.1 * small_torque_of(machine)
    assert found.torque == pytest.approx(np.mean(after), abs=2e-3 * small_torque_of(machine))


def test_changes_that_do_not_shrink_over_many_cycles_are_restless():
    hopping = [1.0, 0.2, 0.6, 0.4] * 16
    assert restless(hopping)
    assert not restless(hopping[1:])  # too few to tell
    assert not restless([0.97**n for n in range(96)])  # slow, and on its way


def test_an_engine_that_hunts_is_told_so_and_not_asked_for_more_cycles():
    """A little further shut no turn is like another; the mean is that of many more cycles."""
    machine = with_throttle(read_setup(EXAMPLE), 0.07)
    case = build_case(machine, Options(), 1750.0)
    found = settle(case, 1750.0, patient(Tolerance(), machine))
    assert found.outcome == NO_TWO_ALIKE
    assert found.cycles < 90
    after = [run_cycle(case).torque for _ in range(96)]
    assert np.ptp(after) > 0.1 * small_torque_of(machine)
    assert found.torque == pytest.approx(np.mean(after), abs=0.05 * small_torque_of(machine))


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


@pytest.fixture(scope="module")
def case() -> Case:
    return build_case(setup_from_text(TWIN, "twin"), Options(grid=2.0), 3000.0)


def size_of(case: Case, table: str, field: str, by: float, rows: Any = slice(None)) -> float:
    """Of the change when a field of some rows is raised."""
    moved = case.copy()
    before = carried_state(moved)
    (moved.arrays[table][0] if table == "cells" else moved.arrays[table])[field][rows] += by
    return float(np.linalg.norm(ChangeScale(moved).change(before, carried_state(moved))))


def test_fuel_in_the_gas_counts_far_more_than_waves_and_warm_walls(case: Case):
    """A tenth of the usual share of fuel moves torque by more than a wave of a tenth of a bar."""
    fuel = size_of(case, "cells", "yv", 0.006)
    assert fuel > 2.0 * size_of(case, "cells", "p", 1e4)
    assert fuel > 2.0 * size_of(case, "cells", "u", 30.0)
    assert fuel > 2.0 * size_of(case, "cells", "wall", 30.0)


def test_a_box_counts_as_a_pipe_of_its_volume():
    with_box = changed_text(TWIN, [("intake.plenum", "6 l")])
    case = build_case(setup_from_text(with_box, "twin"), Options(grid=2.0), 3000.0)
    inverse = case.arrays["cells"]["inverse_volume"][0]
    pipes = float(np.sum(1.0 / inverse[inverse > 0.0]))
    rooms = case.arrays["reservoirs"]
    box = int(np.argmax(np.where(rooms["kind"] == VOLUME, rooms["volume"], 0.0)))
    share = np.sqrt(rooms["volume"][box] / pipes)
    everywhere = size_of(case, "cells", "yv", 0.01)
    assert size_of(case, "reservoirs", "yv", 0.01, box) == pytest.approx(share * everywhere)


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
