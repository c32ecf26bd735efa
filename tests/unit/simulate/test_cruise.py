"""Cruise mixture of a map, and what a steady hold changes."""

import numpy as np
import pytest
from tests.unit.cli.test_predict import SHEET

from pulsewright.bench.sheet import read_setup
from pulsewright.network.options import Options, steady_hold
from pulsewright.simulate.cruise import cruise_of
from pulsewright.simulate.sweep import sweep
from pulsewright.simulate.throttle_map import CIRCUITS, CURVES, ThrottleMap


def a_map(throttle: list[float], mixture: list[list[float]]) -> ThrottleMap:
    """A map without a model."""
    curves = {name: np.ones((len(throttle), 2)) for name in CURVES} | {"lambda_delivered": np.array(mixture)}
    return ThrottleMap(
        throttle=np.array(throttle), rpm=np.array([2000.0, 4000.0]), curves=curves,
        fuel_share={name: np.full((len(throttle), 2), 1.0 / 3.0) for name in CIRCUITS},
        outcome=(("converged",) * 2,) * len(throttle), assumptions=(),
    )  # fmt: skip


@pytest.mark.parametrize(("cooling", "counts"), [("air", (1, 2, 1)), ("water", (1, 3, 0))])
def test_points_of_cruising_are_counted_against_the_band_of_the_cooling(cooling: str, counts: tuple[int, int, int]):
    """Idle and full throttle do not count, nor what could not be computed."""
    found = a_map([0.05, 0.1, 0.25, 0.4, 1.0], [[2, 2], [0.80, 0.95], [np.nan, 1.04], [0.91, np.inf], [0.5, 0.5]])
    cruise = cruise_of(found, cooling)
    assert cruise is not None
    assert (cruise.inside, cruise.richer, cruise.leaner) == counts
    assert (cruise.richest, cruise.leanest) == (0.80, 1.04)
    assert cruise.throttle == (0.1, 0.25, 0.4)


def test_a_map_without_openings_to_cruise_at_has_no_cruise():
    assert cruise_of(a_map([0.05, 1.0], [[0.9, 0.9], [0.9, 0.9]]), "air") is None


def test_a_hold_warms_the_pipe_and_its_gas():
    """Walls take less heat from the gas: it leaves the port as before and the tail warmer."""
    setup, warmth, walls = read_setup(SHEET), [], []

    def seen(case, rpm: float) -> None:
        c, slots = case.arrays["cells"][0], [slot for slot, *_ in case.exhaust.lines[1].cells][3:]
        walls.append(float(np.mean(c["wall"][slots])))
        warmth.append(float(np.mean(c["mean_T"][slots])) * rpm / 120.0)

    for options in (Options(grid=1.5), steady_hold(Options(grid=1.5))):
        sweep(setup, [3500.0], options, threads=1, seen=seen)
    assert walls[1] > walls[0] + 100.0
    assert 1.02 * warmth[0] < warmth[1] < 1.3 * warmth[0]
