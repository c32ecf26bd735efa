"""The march on the card computes what the march on the processor computes."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from tests.unit.gpu.small_cases import small_cases

from pulsewright.errors import MissingToolError
from pulsewright.gpu.card import open_card
from pulsewright.simulate import carried_state as carried
from pulsewright.simulate.cycle import run_cycle, set_speed

HERE = Path(__file__).parent
ROOT = HERE.parents[2]
ORDINARY, FAST = 3000.0, 4e5  # [rpm] the last so fast that a cycle, with all in it, is over within a dozen steps
SAME = 1e-8
CARRIED_BY_FLOW = ("h0", "yb", "yv", "yz")  # of next to no flow they say which side rounding took it from
# Hardly any heat reaches the wall within so short a cycle, and its balance then hangs on a small difference.
WALL_SAME = 1e-4


def differences(case, tables: dict[str, np.ndarray], row: int) -> dict[str, float]:
    """By field, over the largest value of the field in this case."""
    live = case.arrays["skin"]["live"] == 1
    off = {}
    for name, found in tables.items():
        expected = case.arrays[name]
        for field in expected.dtype.names:
            if field.startswith(("left_", "right_", "flow_", "passing")):  # of one step, and left on the card
                continue
            a, b = expected[field], found[row, : expected.shape[0]][field]
            for inner in a.dtype.names or ("",):
                x, y = (a[inner], b[inner]) if inner else (a, b)
                if name == "joints" and field in CARRIED_BY_FLOW:
                    x, y = x * expected["flow"], y * found["flow"][row, : expected.shape[0]]
                if name == "cells" and x.shape[-1] == live.size:
                    x, y = x[:, live], y[:, live]
                largest = np.max(np.abs(x), initial=0.0)
                off[f"{name}.{field}{inner}"] = np.max(np.abs(x - y), initial=0.0) / (largest or 1.0)
    return off


def check(cases, tables: dict[str, np.ndarray], wall_same: float) -> None:
    for row, case in enumerate(cases):
        off = differences(case, tables, row)
        assert off["run.steps"] == 0.0
        assert off.pop("cells.wall") < wall_same
        assert {field: value for field, value in off.items() if not value <= SAME} == {}


def carried_fields(tables: dict[str, np.ndarray]):
    """Every field that a cycle carries into the next, over the cases."""
    for f in carried.GAS:
        yield f, tables["cells"][f]
    for name, fields in carried.TABLES.items():
        for f in fields:
            yield f, tables[name][f]
    for f in carried.CIRCUIT:
        yield f, tables["carburettors"]["circuit"][f]


def check_draw(before: dict[str, np.ndarray], after: dict[str, np.ndarray]) -> None:
    """What `simulated_march` draws: the first case through the last two, and the second in vain."""
    least, below = 1.0, 0
    for (f, old), (_f, new) in zip(carried_fields(before), carried_fields(after), strict=True):
        expected = 1.2 * old[2] - 0.2 * old[3]
        if f in (*carried.NEVER_BELOW_ZERO, "complete"):
            below += np.count_nonzero(expected < 0.0)
            expected = np.maximum(expected, 0.0)
        if f == "complete":
            expected = np.minimum(expected, 1.0)
        np.testing.assert_allclose(new[0], expected, rtol=1e-12, atol=1e-12 * np.max(np.abs(expected)), err_msg=f)
        assert np.array_equal(new[1], old[2]), f
        if f == "p":
            least = min(least, *((4.0 * old[3] - 3.0 * old[2])[old[2] > 0.0] / old[2][old[2] > 0.0]))
    assert below > 0
    assert least < carried.LEAST_SHARE  # else the second would have been believed
    assert np.array_equal(after["cylinders"]["burning"][:2], before["cylinders"]["burning"][[2, 2]])
    for f in ("area", "inverse_volume", "mean_p"):
        assert np.array_equal(after["cells"][f], before["cells"][f]), f
    for name, table in after.items():
        assert table[2:].tobytes() == before[name][2:].tobytes(), name


def moving_cases():
    """Two cycles from rest, whose first flows are rounding and nothing else."""
    cases = small_cases(ORDINARY)
    for case in cases:
        run_cycle(case)
        run_cycle(case)
    return cases


def fill_cylinders(arrays: dict[str, np.ndarray], fresh: dict[str, np.ndarray]) -> None:
    """Fresh charges: in so fast a cycle no other comes in, and to burn burned gas again is a matter of rounding."""
    rows = fresh["cylinders"]["reservoir"]
    arrays["reservoirs"][rows] = fresh["reservoirs"][rows]
    arrays["cylinders"][:] = fresh["cylinders"]


def test_simulated_card_agrees(tmp_path: Path):
    """A cycle of four unlike cases on the CUDA simulator, two of them in two layouts, against the compiled march."""
    cases, states, results = moving_cases(), tmp_path / "states.npz", tmp_path / "results.npz"
    for case, fresh in zip(cases, small_cases(FAST), strict=True):
        set_speed(case, FAST)
        fill_cylinders(case.arrays, fresh.arrays)
    arrays = {f"{n}.{name}": a for n, case in enumerate(cases) for name, a in case.arrays.items()}
    np.savez(states, **arrays)  # pyright: ignore[reportArgumentType]
    here = os.pathsep.join([str(ROOT), str(ROOT / "src")])
    environment = {**os.environ, "NUMBA_ENABLE_CUDASIM": "1", "NUMBA_DISABLE_JIT": "1", "PYTHONPATH": here}
    words = [sys.executable, str(HERE / "simulated_march.py"), str(FAST), str(states), str(results)]
    run = subprocess.run(words, env=environment, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr[-3000:]
    for case in cases:
        run_cycle(case)
    assert any(case.arrays["leaks"].size for case in cases)
    assert any(case.arrays["carburettors"]["sum_lift"][0] > 0.0 for case in cases)
    with np.load(results) as kept:
        tables = {name: kept[name] for name in kept.files}
    drawn = {name: tables.pop(f"drawn.{name}") for name in [*tables] if f"drawn.{name}" in tables}
    seen = {name: tables.pop(f"seen.{name}") for name in ("cylinders", "run", "mean_fuel")}
    assert np.array_equal(seen["cylinders"], tables["cylinders"][: len(cases)])
    assert np.array_equal(seen["run"], tables["run"][: len(cases)])
    assert np.array_equal(seen["mean_fuel"], tables["cells"]["mean_fuel"][: len(cases), 0])
    check([*cases, *cases[2:]], tables, WALL_SAME)
    check_draw(tables, drawn)


def test_real_card_agrees():
    """The same on a card, at an ordinary speed."""
    try:
        open_card()
    except MissingToolError as error:
        pytest.skip(f"no card to compute on: {error.what}")
    from pulsewright.gpu.batch import Batch, Job

    cases = moving_cases()
    batch = Batch(cases, [Job(n, ORDINARY) for n in range(len(cases))])
    batch.run_cycle(np.arange(len(cases)))
    for case in cases:
        run_cycle(case)
    check(cases, {name: batch.table(name) for name in ("run", "cells", "joints", "reservoirs", "cylinders")}, SAME)


def test_equal_cases_side_by_side_end_equal_on_a_real_card():
    """As many as take several cells a thread: what one thread writes while another reads it would differ."""
    try:
        open_card()
    except MissingToolError as error:
        pytest.skip(f"no card to compute on: {error.what}")
    from pulsewright.gpu.batch import Batch, Job

    case = moving_cases()[0]
    many = 512
    batch = Batch([case], [Job(0, ORDINARY)] * many)
    batch.run_cycle(np.arange(many))
    for name in ("run", "cells", "joints", "reservoirs", "cylinders", "carburettors"):
        table = batch.table(name)
        assert all(row.tobytes() == table[0].tobytes() for row in table), name
