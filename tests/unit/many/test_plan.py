"""A plan gives the same designs always, each once, and can say how it differs from another."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pulsewright.errors import UsageError
from pulsewright.many import plan as module
from pulsewright.many.axis import Axis
from pulsewright.many.plan import Plan, differences

SHEET = (Path(__file__).parents[3] / "examples" / "narrow-twin" / "setup.toml").read_text(encoding="utf-8")
LENGTH = Axis("exhaust.route.1.1.length", 800.0, 1000.0, 3, "mm")
JET = Axis("carburettor.1.main_jet", 1.8, 2.0, 2, "mm")
VALVES = Axis("engine.intake_valve.count", 1.0, 2.0, 2, "", whole=True)
GRID = Plan(sheet_text=SHEET, axes=(LENGTH, JET), speeds=(3000.0, 4000.0))
SAMPLE = replace(GRID, sample=100, seed=1)


def ids(plan: Plan) -> list[str]:
    return [design.id for design in plan.designs(plan.points())]


def test_a_grid_has_all_combinations():
    points = GRID.points().tolist()
    assert points == [[length, jet] for length in (800, 900, 1000) for jet in (1.8, 2.0)]
    first = next(GRID.designs(GRID.points()))
    assert first.number == 1
    assert first.changes == (("exhaust.route.1.1.length", "800 mm"), ("carburettor.1.main_jet", "1.8 mm"))


def test_a_sample_fills_the_box_evenly():
    points = SAMPLE.points()
    assert points.shape == (100, 2)
    for column, axis in zip(points.T, SAMPLE.axes, strict=True):
        share = (column - axis.low) / (axis.high - axis.low)
        # a Sobol sequence puts 6 or 7 of 100 points into each sixteenth, a random draw 2 to 11
        counts = np.histogram(share, bins=16, range=(0.0, 1.0))[0]
        assert counts.sum() == 100
        assert counts.min() >= 5
        assert counts.max() <= 8


def test_the_same_plan_gives_the_same_designs():
    assert ids(SAMPLE) == ids(replace(SAMPLE))
    assert len(set(ids(SAMPLE))) == 100


def test_a_longer_sample_goes_on_from_the_shorter():
    assert ids(replace(SAMPLE, sample=120))[:100] == ids(SAMPLE)


@pytest.mark.parametrize(
    "other",
    [
        replace(GRID, speeds=(3000.0,)),
        replace(GRID, level="drag"),
        replace(GRID, sheet_text=SHEET.replace('bore = "94 mm"', 'bore = "95 mm"')),
    ],
)
def test_an_id_tells_what_is_computed(other):
    assert not set(ids(GRID)) & set(ids(other))


def test_an_id_does_not_look_at_comments():
    assert ids(GRID) == ids(replace(GRID, sheet_text="# one more comment\n" + SHEET))


def test_an_id_tells_the_code(monkeypatch):
    before = ids(GRID)
    monkeypatch.setattr(module, "code_version", lambda: "other")
    assert not set(before) & set(ids(GRID))


def test_no_design_comes_twice():
    few = replace(SAMPLE, axes=(VALVES,), sample=50)
    assert few.points().tolist() in ([[1.0], [2.0]], [[2.0], [1.0]])


def test_differences_name_what_differs():
    other = replace(
        SAMPLE, seed=2, speeds=(3000.0,), sheet_text=SHEET.replace('bore = "94 mm"', 'bore = "95 mm"')
    ).as_json()
    lines = differences(SAMPLE.as_json(), other)
    assert len(lines) == 3
    assert any(line.startswith("sample") and '"seed": 2' in line for line in lines)
    assert any(line.startswith("rpm") for line in lines)
    assert 'sheet, engine.bore: there "94 mm", asked "95 mm"' in lines
    assert not differences(SAMPLE.as_json(), SAMPLE.as_json())


def test_too_many_designs_are_refused_before_they_are_made():
    axes = tuple(replace(LENGTH, path=f"path {n}", count=1000) for n in range(4))
    with pytest.raises(UsageError, match="too many"):
        replace(GRID, axes=axes).points()
    with pytest.raises(UsageError, match="too many"):
        replace(SAMPLE, sample=10**9).points()


def test_a_grid_needs_counts():
    with pytest.raises(UsageError, match="how many"):
        replace(GRID, axes=(replace(LENGTH, count=None),)).points()
