"""How a sweep deals with speeds: a failed one must not spoil its neighbours."""

from pathlib import Path

import numpy as np
import pytest

from pulsewright.bench.sheet import read_setup
from pulsewright.simulate import warm_start as module
from pulsewright.simulate.outcome import CONVERGED, FAILED
from pulsewright.simulate.settle import settle
from pulsewright.simulate.sweep import split_by_cost, sweep

TWIN = Path(__file__).parents[3] / "examples" / "narrow-twin" / "setup.toml"


def test_a_failed_speed_does_not_spoil_the_next(monkeypatch):
    def settle_or_fail(case, rpm, *rest):
        if rpm == 5000.0:
            case.arrays["cells"]["energy"][:] = np.nan
        return settle(case, rpm, *rest)

    monkeypatch.setattr(module, "settle", settle_or_fail)
    points = sweep(read_setup(TWIN), [4500.0, 5000.0], threads=1)  # the highest speed runs first
    assert [p.outcome for p in points] == [CONVERGED, FAILED]
    assert np.isfinite(points[0].torque)
    assert np.isnan(points[1].torque)


@pytest.mark.parametrize("parts", [1, 2, 5])
def test_speeds_are_split_whole_and_evenly(parts):
    speeds = [1500.0 + 250.0 * n for n in range(19)]
    chunks = split_by_cost(speeds, parts)
    assert sorted(s for chunk in chunks for s in chunk) == speeds
    costs = [sum(1.0 / s for s in chunk) for chunk in chunks]
    assert len(chunks) == parts
    assert max(costs) - min(costs) < 2.0 / min(speeds)
