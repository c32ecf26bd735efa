"""Lets tests in this folder import what tests share, and sweeps every variant of the engine once."""

import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.trade.variants import Curve, run_variant


@pytest.fixture(scope="session")
def curve() -> Callable[[str], Curve]:
    """Curves of a variant by its name in `tests.trade.variants`; each is computed once a session."""
    return cache(run_variant)
