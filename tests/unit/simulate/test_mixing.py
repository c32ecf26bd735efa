"""Mixed starts arrive sooner, and are left where they do not help."""

from pathlib import Path

import numpy as np
import pytest

from pulsewright.bench.sheet import read_setup
from pulsewright.network.case import Case, build_case
from pulsewright.network.options import Options
from pulsewright.simulate.carried_state import CYLINDER, carried_state, lay_state
from pulsewright.simulate.mixing import Mixing
from pulsewright.simulate.state_change import ChangeScale

TWIN = Path(__file__).parents[3] / "examples" / "narrow-twin" / "setup.toml"
COMPLETE = CYLINDER.index("complete")
END = np.array([0.8, 0.6])


@pytest.fixture(scope="module")
def case() -> Case:
    return build_case(read_setup(TWIN), Options(), 4000.0)


def cycle(case: Case, shares: tuple[float, float]) -> None:
    """A cycle that leaves these shares of the way to END, and nothing else changed."""
    state = carried_state(case)
    column = state.tables["cylinders"][:, COMPLETE]
    column[:] = END + np.array(shares) * (column - END)
    lay_state(case, state)


def way_left(case: Case, shares: tuple[float, float], cycles: int, mixed: bool) -> float:
    case.arrays["cylinders"]["complete"] = 0.3
    scale, mixing, start = ChangeScale(case), Mixing(), carried_state(case)
    for n in range(cycles):
        cycle(case, shares)
        if mixed and n < cycles - 1:
            end = carried_state(case)
            start = mixing.follow(case, end, scale.change(start, end))
    return float(np.max(np.abs(case.arrays["cylinders"]["complete"] - END)))


def test_a_linear_way_of_two_paces_is_gone_in_four_cycles(case: Case):
    shares = (0.6, 0.3)
    assert way_left(case.copy(), shares, 4, mixed=False) > 0.05
    assert way_left(case.copy(), shares, 4, mixed=True) < 0.01


def test_where_the_change_grows_the_cycles_go_on_by_themselves(case: Case):
    case = case.copy()
    case.arrays["cylinders"]["complete"] = 0.5
    scale, mixing, start = ChangeScale(case), Mixing(), carried_state(case)
    for step in (0.01, 0.04, 0.16):
        end = carried_state(case)
        end.tables["cylinders"][:, COMPLETE] += step
        lay_state(case, end)
        start = mixing.follow(case, end, scale.change(start, end))
    np.testing.assert_allclose(case.arrays["cylinders"]["complete"], 0.71)
