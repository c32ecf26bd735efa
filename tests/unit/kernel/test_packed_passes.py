"""Passes over cells divide several cells at once, and passages too: what stops that makes a march far slower."""

import platform
import re

import numba
import numpy as np
import pytest

from pulsewright.kernel import cells, lanes
from pulsewright.kernel.layout import CAPACITIES, PASSING, cells_dtype
from pulsewright.physics.compiled import COMPILE_OPTIONS

PACKED = {"x86_64": r"\bv?divpd\b", "AMD64": r"\bv?divpd\b", "aarch64": r"\bfdiv\s+v\d+\.2d", "arm64": r"\bfdiv\.2d"}
# Divisions that are written in each pass, each of which stands at least once in its packed loop.
WRITTEN = {"face_states": 2, "face_flows": 2, "new_states": 4}
WRITTEN_IN_NEWTON = 14  # of one step through a passage, four of them in logarithms

pytestmark = pytest.mark.skipif(platform.machine() not in PACKED, reason="no packed divisions known here")


def assembly(function, *arguments) -> str:
    """Of a pass compiled afresh, since a pass out of the cache has none."""
    fresh = numba.njit(**COMPILE_OPTIONS)(function.py_func)
    fresh(*arguments)
    return next(iter(fresh.inspect_asm().values()))


@pytest.mark.parametrize("name", WRITTEN)
def test_the_divisions_of_a_pass_are_packed(name: str):
    c = np.zeros(1, dtype=cells_dtype(CAPACITIES[0]))[0]
    text = assembly(getattr(cells, name), *((c,) if name == "face_flows" else (c, 0.0)))
    assert len(re.findall(PACKED[platform.machine()], text)) >= WRITTEN[name]


@pytest.mark.parametrize("name", ["newton_steps", "newton_steps_of_half"])
def test_passages_take_their_newton_steps_side_by_side(name: str):
    text = assembly(getattr(lanes, name), np.zeros(1, dtype=PASSING)[0])
    assert len(re.findall(PACKED[platform.machine()], text)) >= WRITTEN_IN_NEWTON
    assert re.findall(r"(?<![\w.])(?:log|exp|pow)(?![\w.])", text) == []  # calls, one number each
