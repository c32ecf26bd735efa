"""Air holes that the fuel in an emulsion tube uncovers: against a plain twin, closed formulas and its own books."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.unit.kernel.test_carburettor import AIR, CD, FUEL, area, circuit, plain_of, plain_step, unit

from pulsewright.bench.schema import MOST_HOLE_ROWS
from pulsewright.kernel.carburettor import GRAVITY, circuit_step
from pulsewright.kernel.layout import TUBE_ROWS

BORE, ROWS = 1.0e-3, (3e-3, 8e-3, 14e-3, 22e-3)  # [m] of the holes; rows under the fuel in the bowl
JET, BLEED, OUTLET = CD * area(1.8e-3), 0.75 * area(1.1e-3), 0.75 * area(3.5e-3)


def tubed(rows=ROWS, holes: int = 2, **more: float):
    """A main circuit with an emulsion tube."""
    row = circuit(jet=JET, bleed=BLEED, outlet=OUTLET, tube_area=area(4e-3), tube_time=0.05, **more)
    row["rows"] = len(rows)
    for k, below in enumerate(rows):
        row["row_top"][k], row["row_bore"][k] = 0.5 * BORE - below, BORE
        row["row_area"][k] = 0.75 * holes * area(BORE)
    return row


def steady(row, suction: float, seconds: float = 1.0) -> tuple[float, float]:
    """Fuel and air [kg/s] at rest under a steady suction [Pa] of the throat."""
    fuel = air = 0.0
    for _ in range(round(seconds / 2e-5)):
        fuel, air = circuit_step(row, suction, 0.0, FUEL, AIR, 2e-5)
    return fuel, air


def test_sheet_and_kernel_hold_as_many_rows():
    assert MOST_HOLE_ROWS == TUBE_ROWS


@settings(max_examples=20, deadline=None)
@given(a=unit, holes=st.integers(1, 4), rows=st.lists(st.floats(0.0, 0.03), min_size=1, max_size=TUBE_ROWS))
def test_a_circuit_with_a_tube_is_its_plain_twin(a: float, holes: int, rows: list[float]):
    compiled = tubed(tuple(sorted(rows)), holes)
    plain, dt = plain_of(compiled), 1e-5
    for n in range(400):
        throat = 6000.0 * a * (1.0 + 1.5 * math.sin(0.05 * n))
        got = circuit_step(compiled, throat, 0.0, FUEL, AIR, dt)
        assert got == pytest.approx(plain_step(plain, throat, 0.0, dt), rel=1e-6, abs=1e-13)
    assert compiled["tube_level"] == pytest.approx(plain.tube_level, rel=1e-8, abs=1e-12)


def test_fuel_through_the_jet_is_fuel_given_and_fuel_kept():
    """Books over a swinging suction: what came through the jet left at the nozzle or stands in well and tube."""
    row = tubed()
    before = row["well_area"] * row["level"] + row["tube_area"] * row["tube_level"]
    through = 0.0
    for n in range(40_000):
        circuit_step(row, 2500.0 * (1.0 + 1.4 * math.sin(0.01 * n)), 0.0, FUEL, AIR, 2e-5)
        through += 2e-5 * row["flow"]
    kept = FUEL * (row["well_area"] * row["level"] + row["tube_area"] * row["tube_level"] - before)
    assert row["tube_level"] < -5e-3  # the tube did drain
    assert row["sum_fuel"] + kept == pytest.approx(through, rel=1e-9)


def test_with_all_holes_covered_the_bleed_does_nothing():
    """The deepest fuel falls is the head of the suction in the well; holes below that see no air."""
    deep, none = tubed((60e-3,)), circuit(jet=JET, bleed=0.0, outlet=OUTLET)
    assert steady(deep, 300.0)[1] == 0.0
    assert steady(deep, 300.0)[0] == pytest.approx(steady(none, 300.0)[0], rel=1e-9)
    assert float(deep["tube_level"]) > -60e-3


def test_with_all_holes_wide_above_the_fuel_the_bleed_is_as_without_a_tube():
    """Holes of a hundred times the bleed's area, in series: it keeps 1 - 1/2 * 1e-4 of itself.

    The nozzle's lip at the fuel's level, so that no head is needed to hold the fuel below the holes.
    """
    level = {"lip": 0.0, "level": 0.0}
    wide, plain = tubed((0.0, 0.0), holes=70, **level), circuit(jet=JET, bleed=BLEED, outlet=OUTLET, **level)
    assert steady(wide, 4000.0) == pytest.approx(steady(plain, 4000.0), rel=1e-3)


def test_the_tube_stands_lower_by_the_head_that_its_holes_take():
    """Communicating vessels at rest: rho g (h - z) is the drop of the air through the holes (Bernoulli)."""
    row = tubed()
    _, air = steady(row, 2500.0, 2.0)
    z = float(row["tube_level"])
    free = sum(np.clip((top - z) / BORE, 0.0, 1.0) for top in row["row_top"][: len(ROWS)])
    holes = free * float(row["row_area"][0])
    drop = air**2 / (2.0 * AIR * holes**2)
    assert -22e-3 < z < -3e-3
    assert FUEL * GRAVITY * (float(row["level"]) - z) == pytest.approx(drop, rel=1e-3)


def test_more_suction_uncovers_more_and_leans():
    """Common practice, no published source: rows uncover one by one, and the bleed grows with the air drawn."""
    suctions = (200.0, 400.0, 800.0, 1600.0, 3200.0, 6400.0)
    rows = [tubed((14e-3, 20e-3, 28e-3)) for _ in suctions]
    plain = [circuit(jet=JET, bleed=BLEED, outlet=OUTLET) for _ in suctions]
    found = np.array([steady(row, s) for row, s in zip(rows, suctions, strict=True)])
    against = np.array([steady(row, s) for row, s in zip(plain, suctions, strict=True)])
    levels = [float(row["tube_level"]) for row in rows]
    richer = found[:, 0] / against[:, 0]
    assert np.all(np.diff(levels) < 0.0)
    assert np.all(np.diff(richer) < 0.0)
    assert richer[0] > 1.1  # richer than a plain bleed at the onset, as lean as it on top
    assert richer[-1] == pytest.approx(1.0, abs=0.02)


def test_a_hole_more_leans_and_a_deeper_row_comes_in_later():
    assert steady(tubed(holes=4), 1500.0)[0] < steady(tubed(holes=2), 1500.0)[0]
    high, deep = tubed((2e-3, 6e-3)), tubed((20e-3, 26e-3))
    assert steady(deep, 600.0)[0] > 1.05 * steady(high, 600.0)[0]
