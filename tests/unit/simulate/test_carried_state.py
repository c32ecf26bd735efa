"""What a case carries on is all that it carries on, and can be laid on other cells."""

from pathlib import Path

import numpy as np
import pytest

from pulsewright.bench.sheet import read_setup
from pulsewright.network.case import Case, build_case
from pulsewright.network.options import Options
from pulsewright.simulate.carried_state import (
    CIRCUIT,
    CYLINDER,
    GAS,
    PISTON,
    believable,
    carried_state,
    cell_map,
    clip,
    lay_state,
    plus,
    read_off,
    same_tables,
)
from pulsewright.simulate.cycle import run_cycle, set_speed

TWIN = Path(__file__).parents[3] / "examples" / "narrow-twin" / "setup.toml"
RPM = 4000.0


def case_at(rpm: float, cycles: int, grid: float = 1.0) -> Case:
    case = build_case(read_setup(TWIN), Options(grid=grid), rpm)
    set_speed(case, rpm)
    for _ in range(cycles):
        run_cycle(case)
    return case


@pytest.fixture(scope="module")
def warm() -> Case:
    return case_at(RPM, 2)


def test_a_fresh_case_goes_on_to_the_last_bit_from_what_another_carried(warm: Case):
    """Fails where the kernel keeps something from cycle to cycle that the carried state leaves out."""
    first, second = warm.copy(), case_at(RPM, 0)
    lay_state(second, carried_state(first))
    # the volume of a cylinder follows from the crank; by another way of reckoning, its last digit differs
    second.arrays["reservoirs"]["volume"] = first.arrays["reservoirs"]["volume"]
    assert run_cycle(second).torque == run_cycle(first).torque
    for name in ("cells", "reservoirs", "cylinders", "carburettors"):
        for field in first.arrays[name].dtype.names or ():
            if field == "passing":  # of one step only
                continue
            np.testing.assert_array_equal(first.arrays[name][field], second.arrays[name][field], err_msg=field)


def test_a_case_reads_its_own_state_off_unchanged(warm: Case):
    onto = cell_map(warm, warm)
    assert onto is not None
    state = carried_state(warm)
    same = read_off(carried_state(case_at(RPM, 0)), state, onto)
    np.testing.assert_allclose(same.gas[:, onto.inside], state.gas[:, onto.inside], rtol=1e-12)


def test_longer_cells_hold_the_same_gas(warm: Case):
    coarse = case_at(RPM, 0, grid=2.0)
    onto = cell_map(warm, coarse)
    assert onto is not None
    state = read_off(carried_state(coarse), carried_state(warm), onto)
    lay_state(coarse, state)

    def gas_in(case: Case) -> float:
        c = case.arrays["cells"][0]
        cells = c["inverse_volume"] > 0.0
        return float(np.sum(c["rho"][cells] / c["inverse_volume"][cells]))

    assert gas_in(coarse) == pytest.approx(gas_in(warm), rel=0.02)


def test_other_ducts_do_not_pair(warm: Case):
    pipe = '{ piece = "pipe", length = "500 mm", bore = "42 mm" }, { piece = "join", into = "collector" }'
    end = '{ piece = "pipe", length = "500 mm", bore = "50 mm" }, { piece = "end", kind = "open" }'
    setup = read_setup(TWIN, [("exhaust", f"{{ route.1 = [{pipe}], route.2 = [{pipe}], after.collector = [{end}] }}")])
    other = build_case(setup, Options(), RPM)
    assert cell_map(warm, other) is None or not same_tables(carried_state(warm), carried_state(other))


def test_a_state_that_loses_most_of_its_gas_is_not_believed(warm: Case):
    state = carried_state(warm)
    empty = carried_state(warm)
    empty.gas[GAS.index("rho")] *= 0.2
    assert believable(state, state)
    assert not believable(empty, state)
    assert not believable(plus(state, 5.0, empty, state), state)


def test_what_a_sum_drives_below_nothing_is_put_back_and_what_may_be_negative_is_not(warm: Case):
    state = carried_state(warm)
    for table in (state.gas, *state.tables.values()):
        table[...] = -1.0
    clip(state)
    cut = {"burned", "vapour", "burned_fuel", "yb", "yv", "yz", "friction", "heat"}
    assert {f for row, f in zip(state.gas, GAS, strict=True) if np.all(row == 0.0)} == cut
    assert np.all(state.tables["circuits"][:, CIRCUIT.index("spill")] == 0.0)
    assert np.all(state.tables["circuits"][:, CIRCUIT.index("flow")] == -1.0)
    assert np.all(state.tables["carburettors"][:, PISTON.index("film_flow")] == 0.0)
    assert np.all(state.tables["carburettors"][:, PISTON.index("lift_speed")] == -1.0)
    assert np.all(state.tables["cylinders"][:, CYLINDER.index("complete")] == 0.0)
