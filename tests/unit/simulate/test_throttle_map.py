"""The map over speed and throttle: its shape, its shares, and what holds the main circuit back."""

import math

import numpy as np
import pytest
from tests.trade.generic_twin import twin

from pulsewright.bench.setup import Setup
from pulsewright.bench.sheet import setup_from_text
from pulsewright.bench.throttle import with_throttle
from pulsewright.network.options import Options
from pulsewright.simulate.fidelity import DRAG
from pulsewright.simulate.sweep import sweep
from pulsewright.simulate.throttle_map import CIRCUITS, FORMAT, ThrottleMap, needle_share, throttle_map

OPENINGS, SPEEDS = (0.15, 0.5, 1.0), (2500.0, 4000.0)


@pytest.fixture(scope="module")
def setup() -> Setup:
    """The generic twin with a slide."""
    own = ("main_air_bleed", "main_nozzle", "intermediate")
    text = "\n".join(line for line in twin().splitlines() if not line.startswith(own))
    return setup_from_text(text.replace('kind = "fixed venturi"', 'kind = "slide"'), "twin")


@pytest.fixture(scope="module")
def found(setup: Setup) -> ThrottleMap:
    return throttle_map(setup, OPENINGS, SPEEDS, level=DRAG)


def test_the_map_has_a_row_an_opening_and_a_column_a_speed(found: ThrottleMap):
    for curve in (*found.curves.values(), *found.fuel_share.values()):
        assert curve.shape == (3, 2)
    assert np.sum(list(found.fuel_share.values()), axis=0) == pytest.approx(np.ones((3, 2)), abs=1e-12)
    assert {name for row in found.ruler() for name in row} <= set(CIRCUITS)
    assert np.isnan(found.curves["piston_lift_mm"]).all()
    assert np.isnan(found.curves["pressure_behind_kpa"][2]).all()
    assert np.all(found.curves["torque_nm"][0] < 0.7 * found.curves["torque_nm"][1:])
    assert found.as_json()["format"] == FORMAT


def test_a_row_of_the_map_is_the_sweep_at_that_opening(setup: Setup, found: ThrottleMap):
    points = sweep(with_throttle(setup, 0.5), SPEEDS, Options(grid=DRAG.grid), within=DRAG.within)
    assert found.curves["torque_nm"][1] == pytest.approx([p.torque for p in points], rel=1e-6)


def test_jet_and_ring_share_the_loss_by_the_square_of_their_areas(setup: Setup):
    """Two openings in series, closed form: where their areas are alike each holds back half."""
    part = setup.carburettors[0]
    assert part.needle is not None
    ring = needle_share(part, 0.0)
    jet_area = 0.78 * 0.25 * math.pi * part.main_jet**2
    ring_area = 0.75 * 0.25 * math.pi * (part.needle.jet**2 - part.needle.diameter**2)
    assert ring == pytest.approx(jet_area**2 / (jet_area**2 + ring_area**2), rel=1e-9)
    assert ring > 0.9 > 0.5 > needle_share(part, part.venturi)
    fixed = setup_from_text(twin(), "twin").carburettors[0]
    assert needle_share(fixed, 0.01) == 0.0
