"""An engine that starts from rest fires from its first full charge, whatever it missed until fuel came."""

import numpy as np
from tests.trade.generic_twin import OPEN, pipe, route, twin

from pulsewright.bench.sheet import setup_from_text
from pulsewright.kernel.cylinder import FOLLOWS
from pulsewright.network.case import build_case
from pulsewright.network.engine_parts import START_CYCLES
from pulsewright.network.options import Options
from pulsewright.physics.power_versus_mixture import firing_share
from pulsewright.simulate.carried_state import carried_state, lay_state
from pulsewright.simulate.cycle import run_cycle, set_speed
from pulsewright.simulate.outcome import MISFIRE
from pulsewright.simulate.settle import Tolerance, settle

RPM = 3000.0
LONG_CELLS = 3.0


def case_without_fuel():
    """Air in all ducts and rooms, and carburettors that give none."""
    case = build_case(setup_from_text(twin(route(pipe(0.6), OPEN)), "twin"), Options(grid=LONG_CELLS), RPM)
    set_speed(case, RPM)
    for name in ("cells", "reservoirs"):
        for field in ("vapour", "yv"):
            case.arrays[name][field] = 0.0
    case.arrays["carburettors"]["on"] = 0
    return case


def test_misfires_of_the_first_cycles_are_forgotten_and_later_ones_are_not():
    case = case_without_fuel()
    firing = [run_cycle(case).firing for _ in range(START_CYCLES)]
    assert np.all(firing[:-1] == np.ones(2))
    assert np.all(firing[-1] == 0.0)


def test_the_first_cycle_that_counts_is_taken_whole_and_later_ones_are_followed():
    """Leave out what no mean knows yet, and an engine near its limit needs a dozen cycles to forget that it fired."""
    setup = setup_from_text(twin(route(pipe(0.6), OPEN)), "twin")
    lean = Options(grid=LONG_CELLS, mixture=1.23)
    case = build_case(setup, lean, RPM)
    set_speed(case, RPM)
    cycles = [run_cycle(case) for _ in range(START_CYCLES + 1)]
    shares = [[firing_share(float(x)) for x in cycle.trapped_lambda] for cycle in cycles]
    counts, after = cycles[START_CYCLES - 1], cycles[START_CYCLES]
    assert 0.0 < min(shares[START_CYCLES - 1]) < 1.0
    np.testing.assert_allclose(counts.firing, shares[START_CYCLES - 1])
    np.testing.assert_allclose(after.firing, counts.firing + FOLLOWS * (shares[START_CYCLES] - counts.firing))


def test_a_state_that_is_laid_into_a_fresh_case_is_no_start_from_rest():
    ran, fresh = case_without_fuel(), case_without_fuel()
    for _ in range(START_CYCLES):
        run_cycle(ran)
    lay_state(fresh, carried_state(ran))
    assert np.all(run_cycle(fresh).firing == 0.0)
    assert not np.any(fresh.arrays["cylinders"]["starting"])


def test_no_rest_is_told_before_a_cycle_that_counts():
    """However little is asked of torque: an engine without fuel would else be told as one that fires."""
    found = settle(case_without_fuel(), RPM, Tolerance(torque=100.0))
    assert (found.cycles, found.outcome) == (START_CYCLES, MISFIRE)
