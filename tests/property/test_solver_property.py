"""Any valid sheet runs to a named end: no number is lost, nothing hangs."""

import math

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.strategies import valid_sheets

from pulsewright.bench.sheet import setup_from_text
from pulsewright.network.options import ENDS, Options
from pulsewright.simulate.outcome import BY_TURNS, CONVERGED, CYCLE_LIMIT, MISFIRE, NO_TWO_ALIKE, SWINGS
from pulsewright.simulate.settle import Tolerance
from pulsewright.simulate.sweep import sweep

NAMED = {CONVERGED, CYCLE_LIMIT, SWINGS, BY_TURNS, NO_TWO_ALIKE, MISFIRE}
FEW_CYCLES = Tolerance(most_cycles=4, run_on=0)
few = settings(
    max_examples=20,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


@few
@given(
    text=valid_sheets(),
    rpm=st.sampled_from([1500.0, 3200.0, 5500.0]),
    ends=st.sampled_from(ENDS),
    mixture=st.sampled_from([None, None, 0.87]),
)
def test_any_valid_sheet_runs_to_a_named_outcome(text: str, rpm: float, ends: str, mixture: float | None):
    setup = setup_from_text(text, "drawn.toml")
    options = Options(exhaust_ends=ends, mixture=mixture)
    (point,) = sweep(setup, [rpm], options, within=FEW_CYCLES)
    assert point.outcome in NAMED
    assert point.cycles <= FEW_CYCLES.most_cycles
    assert math.isfinite(point.torque)
    assert 0.0 < point.volumetric_efficiency < 2.0
    assert np.all(np.isfinite(point.residual_by_cylinder))
    assert all(0.0 <= r < 0.9 for r in point.residual_by_cylinder)
    assert all(x > 0.0 for x in point.trapped_by_cylinder)  # infinite where no fuel came
