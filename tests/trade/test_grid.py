"""The default cells are fine enough for torque. Bound of the project, no published source."""

import numpy as np
from tests.trade.generic_twin import twin

from pulsewright.bench.sheet import setup_from_text
from pulsewright.network.options import Options
from pulsewright.simulate.predict import grid_change

SPEEDS = [2000.0, 2750.0, 3250.0, 4250.0, 5250.0]


def test_cells_half_as_long_hardly_change_torque_with_a_premixed_charge():
    """Less than 1 % at five speeds, the bottom of the hole among them."""
    change = grid_change(setup_from_text(twin(), "generic twin"), SPEEDS, Options(mixture=0.87))
    assert np.abs(change).max() < 0.01


def test_cells_half_as_long_hardly_change_torque_with_the_carburettor():
    """Less than 1 % at five speeds, the bottom of the hole among them."""
    change = grid_change(setup_from_text(twin(), "generic twin"), SPEEDS)
    assert np.abs(change).max() < 0.01
