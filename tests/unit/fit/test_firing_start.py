"""A search starts where the model fires: by the curve of firing itself, not by numbers of the search."""

import numpy as np
import pytest

from pulsewright.fit.firing_start import firing_limit
from pulsewright.fit.unknowns import UNKNOWNS
from pulsewright.physics.power_versus_mixture import RICH_MISFIRE, firing_share

LIMIT = next(u for u in UNKNOWNS if u.name == "rich_limit")


@pytest.mark.parametrize("richest", [0.58, 0.64, 0.70])
def test_the_model_fires_at_the_richest_mixture_that_was_measured(richest: float):
    limit = LIMIT.value(firing_limit([np.array([0.9, np.nan]), np.array([richest, 0.8])], LIMIT))
    assert firing_share(richest - 0.03 + RICH_MISFIRE - limit) > 0.99


def test_where_nothing_is_rich_the_limit_stays_where_it_is_believed():
    assert firing_limit([np.array([0.85, 0.95]), np.full(3, np.nan)], LIMIT) == 0.0
