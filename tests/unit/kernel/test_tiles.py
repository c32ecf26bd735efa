"""Tile by tile a pass does what it does cell by cell, and nothing beside the tiles."""

import numpy as np
import pytest
from tests.trade.layouts import ALIKE

from pulsewright.bench.sheet import setup_from_text
from pulsewright.kernel import cells
from pulsewright.kernel.layout import FIELDS, TILE, on_cache_lines
from pulsewright.network.case import build_case
from pulsewright.network.options import Options
from pulsewright.simulate.cycle import run_cycle, set_speed

RPM, DT = 3000.0, 1e-6


@pytest.fixture(scope="module")
def moving() -> np.ndarray:
    """Cells of a four whose gas moves: several tiles, the last of them not full."""
    case = build_case(setup_from_text(ALIKE["four in a row, 4-2-1"], "four"), Options(), RPM)
    set_speed(case, RPM)
    run_cycle(case)
    slots, tiles = int(case.arrays["run"]["slots"][0]), int(case.arrays["cells"]["tiles"][0])
    assert TILE * (tiles - 1) < slots - 1 < TILE * tiles
    assert tiles > 2
    return case.arrays["cells"]


def one_by_one(c, tiles: int, *steps) -> None:
    """Every step over all slots of the tiles before the next one."""
    for step, arguments in steps:
        for i in range(1, TILE * tiles + 1):
            step(c, i, *arguments)


PASSES = {
    "face_states": ((DT,), lambda c: [(cells.face_state, (DT,)), (cells.face_fractions, (DT,))]),
    "face_flows": ((), lambda c: [(cells.face_flow, ())]),
    "new_states": ((DT,), lambda c: [(cells.balance, (DT,)), (cells.gas_state, (cells.stocks_of(c),))]),
    "gas_states": ((), lambda c: [(cells.gas_state, (cells.stocks_of(c),))]),
    "means": ((DT,), lambda c: [(cells.add_to_means, (DT,))]),
}


@pytest.mark.parametrize("name", PASSES)
def test_a_pass_is_as_its_cells_one_by_one(moving: np.ndarray, name: str):
    arguments, steps = PASSES[name]
    by_tiles, alone = on_cache_lines(moving), on_cache_lines(moving)
    tiles = int(moving["tiles"][0])
    getattr(cells, name)(by_tiles[0], *arguments)
    one_by_one(alone[0], tiles, *steps(alone[0]))
    moved = [field for field in FIELDS if not np.array_equal(by_tiles[field], moving[field])]
    assert moved
    for field in FIELDS:
        largest = np.max(np.abs(alone[field]))
        np.testing.assert_allclose(by_tiles[field], alone[field], rtol=1e-12, atol=1e-14 * largest, err_msg=field)


def test_slots_beside_the_tiles_stay_as_they_are(moving: np.ndarray):
    c = on_cache_lines(moving)
    tiles = int(c["tiles"][0])
    beside = np.r_[0, TILE * tiles + 1 : c["rho"].shape[1]]
    assert beside.size > 1
    for field in FIELDS:
        c[field][0, beside] = 1.25  # any gas
    cells.face_states(c[0], DT)
    cells.face_flows(c[0])
    cells.new_states(c[0], DT)
    cells.means(c[0], DT)
    assert all(np.all(c[field][0, beside] == 1.25) for field in FIELDS)
