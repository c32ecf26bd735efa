"""Passages side by side give what each gives alone, also where a case has more of them than lanes."""

import numpy as np
import pytest
from tests.trade.layouts import ALIKE

from pulsewright.bench.sheet import setup_from_text
from pulsewright.kernel.joints import solve_joint, solve_joints
from pulsewright.kernel.layout import LANES
from pulsewright.network.case import build_case
from pulsewright.network.options import Options
from pulsewright.simulate.cycle import run_cycle, set_speed

WITHIN = 1e-12  # relative: the same steps, rounded in another order


@pytest.mark.parametrize("degrees", [30.0, 250.0, 400.0, 610.0])
@pytest.mark.parametrize(("name", "over"), [("four in a row, 4-2-1", LANES), ("three in a row, 3-1", LANES // 2)])
def test_side_by_side_is_as_alone(name: str, over: int, degrees: float):
    case = build_case(setup_from_text(ALIKE[name], "engine"), Options(), 4000.0)
    assert case.arrays["joints"].size % LANES > 0
    assert case.arrays["joints"].size > over
    set_speed(case, 4000.0)
    run_cycle(case)
    alone = case.copy()
    a, b = case.arrays, alone.arrays
    solve_joints(a["cells"][0], a["joints"], a["reservoirs"], a["valves"], degrees, 1e-5)
    for joint in b["joints"]:
        solve_joint(b["cells"][0], b["reservoirs"], b["valves"], joint, degrees, 1e-5)
    flows = np.abs(b["joints"]["flow"])
    assert np.max(flows) > 0.0
    for name in ("flow", "guess_a", "guess_b", "mass_speed"):
        largest = np.max(np.abs(b["joints"][name]))
        assert a["joints"][name] == pytest.approx(b["joints"][name], rel=WITHIN, abs=WITHIN * largest), name
    for name in ("flow_mass", "flow_momentum", "flow_energy", "flow_b"):
        largest = np.max(np.abs(b["cells"][name]))
        assert a["cells"][name][0] == pytest.approx(b["cells"][name][0], rel=WITHIN, abs=WITHIN * largest), name
