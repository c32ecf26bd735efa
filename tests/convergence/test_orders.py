"""The compiled scheme is of second order on smooth flow and reaches the exact plateaus behind a jump.

Orders are read from grids of 50 to 400 cells; exact solutions: a density wave carried by a uniform stream,
and a simple wave before it steepens (Earnshaw 1860).
"""

from __future__ import annotations

import numpy as np
import pytest

from pulsewright.outside import smooth_flow_checks as smooth

LEAST_ORDER = 1.9


@pytest.mark.parametrize("errors_of", [smooth.density_wave_errors, smooth.simple_wave_errors])
def test_every_halving_of_the_cells_quarters_the_error(errors_of):
    errors = np.array(errors_of())
    orders = np.log2(errors[:-1] / errors[1:])
    assert np.all(orders >= LEAST_ORDER), f"orders {orders}, errors {errors}"
    assert smooth.order(list(errors)) >= LEAST_ORDER
