"""When a cycle counts as periodic."""

from dataclasses import replace
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
from pulsewright.simulate.mixing import Mixing
from pulsewright.simulate.outcome import BY_TURNS, CONVERGED, CYCLE_LIMIT, NO_TWO_ALIKE, SWINGS, outcome_at_no_rest
from pulsewright.simulate.settle import PROOF, Tolerance, patient, settle, small_torque_of
from pulsewright.simulate.state_change import PISTON_SHARE, ChangeScale
from pulsewright.simulate.sweep import split_by_cost

EXAMPLE = Path(__file__).parents[3] / "examples" / "narrow-twin" / "setup.toml"
FIRING, MISSING = np.ones(2), np.array([1.0, 0.97])


def test_turns_with_missing_cycles_are_told_as_firing_and_misfiring():
    assert outcome_at_no_rest(FIRING, BY_TURNS) == BY_TURNS
    assert outcome_at_no_rest(MISSING, BY_TURNS) == SWINGS


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


def test_nearly_shut_cycles_follow_each_other_as_they_come(monkeypatch):
    """Turns are found sooner than by way of a state between them."""

    def mixed(*_):
        raise AssertionError("cycles were mixed")

    monkeypatch.setattr(Mixing, "follow", mixed)
    machine = with_throttle(read_setup(EXAMPLE), 0.12)
    assert settle(build_case(machine, Options(), 3000.0), 3000.0, patient(Tolerance(), machine)).outcome == CONVERGED
    wider = with_throttle(machine, 0.14)
    with pytest.raises(AssertionError, match="mixed"):
        settle(build_case(wider, Options(), 3000.0), 3000.0, patient(Tolerance(), wider))


def test_a_state_that_an_engine_would_leave_is_not_told_as_rest():
    """Mixed cycles find it also where strong and weak cycles follow each other by turns as they come."""
    machine = with_throttle(read_setup(EXAMPLE), 0.11)
    case = build_case(machine, Options(), 4000.0)
    found = settle(case, 4000.0, Tolerance(most_cycles=96))
    assert found.outcome == BY_TURNS
    after = [run_cycle(case).torque for _ in range(6)]
    assert np.ptp(after) > 0.1 * small_torque_of(machine)
    assert found.torque == pytest.approx(np.mean(after), abs=2e-3 * small_torque_of(machine))


def test_a_state_that_holds_is_told_as_rest_however_suspect_it_looked(monkeypatch):
    machine = read_setup(EXAMPLE)
    usual = settle(build_case(machine, Options(), 4000.0), 4000.0)
    monkeypatch.setattr("pulsewright.simulate.settle.MAY_GROW", 0.0)
    suspected = settle(build_case(machine, Options(), 4000.0), 4000.0)
    assert (suspected.outcome, suspected.cycles) == (CONVERGED, usual.cycles + PROOF)
    assert suspected.torque == pytest.approx(usual.torque, rel=1e-3)


def test_what_mixed_cycles_do_not_bring_to_rest_runs_on():
    machine = read_setup(EXAMPLE)
    told = settle(build_case(machine, Options(), 4000.0), 4000.0, Tolerance(most_cycles=3, run_on=0))
    assert (told.outcome, told.cycles) == (CYCLE_LIMIT, 3)
    usual = settle(build_case(machine, Options(), 4000.0), 4000.0)
    ran_on = settle(build_case(machine, Options(), 4000.0), 4000.0, Tolerance(most_cycles=3))
    assert ran_on.outcome == CONVERGED
    assert ran_on.torque == pytest.approx(usual.torque, rel=1e-3)


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
    """Little gas moves in a cycle, so pipes take many to be filled anew: more are allowed, the tolerance stays."""
    usual = Tolerance(torque=2e-3, most_cycles=10)
    small = Tolerance(torque=2e-3, most_cycles=40)
    machine = setup_from_text(TWIN, "twin")
    assert patient(usual, machine) == usual
    assert patient(usual, with_throttle(machine, 0.5)) == usual
    assert patient(usual, with_throttle(machine, 0.2)) == small
    assert patient(usual, with_throttle(machine, 0.05)) == replace(small, mixed=False)


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
