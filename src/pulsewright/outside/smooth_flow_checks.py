r"""Smooth flow on finer and finer cells: the error must fall with the square of the cell length.

A density wave carried by a uniform stream has the exact solution "the same, moved on". A simple wave has
:math:`u = 2 a_0/(\gamma-1)\,(\rho^{(\gamma-1)/2} - 1)`, and every point of it travels at u + a, until it
steepens; the travelled place is solved from its start by Newton's method.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np

from pulsewright.outside.bare_cells import BareDuct, Numbers, bare_duct, march
from pulsewright.outside.check import Check

GRIDS = (50, 100, 200, 400)
GAMMA = 1.4
DENSITY_SWING = 0.2
WAVE_SWING = 0.05  # of the sound speed
WAVE_TIME = 0.6  # of the time at which the wave would steepen into a shock


def checks() -> Iterator[Check]:
    """Orders between the coarsest and the finest grid, and the fit over all of them."""
    for what, source, errors in (
        ("carried density wave", "exact solution: moved on by u t", density_wave_errors()),
        (
            "simple wave before it steepens",
            "Earnshaw 1860: each point travels at u + a",
            simple_wave_errors(),
        ),
    ):
        yield Check(
            what=f"{what}: order of the mean error, {GRIDS[0]} to {GRIDS[-1]} cells",
            source=source,
            expected=1.9,
            got=order(errors),
            tolerance=0.0,
            kind="at least",
        )


def order(errors: list[float]) -> float:
    """Slope of error over cell length on logarithmic scales, least squares over all grids."""
    return float(-np.polyfit(np.log(GRIDS), np.log(errors), 1)[0])


def density_wave_errors() -> list[float]:
    """Mean density error after one turn through a periodic duct of length 1, for every grid."""
    errors = []
    for cells in GRIDS:
        exact = _cell_means(lambda x: 1.0 + DENSITY_SWING * np.sin(2.0 * math.pi * x), cells)
        duct = bare_duct(1.0, cells, GAMMA, exact, _ones(exact), _ones(exact), periodic=True)
        march(duct, 1.0)
        errors.append(float(np.mean(np.abs(duct.field("rho") - exact))))
    return errors


def simple_wave_errors() -> list[float]:
    """Mean density error of a simple wave in a periodic duct, for every grid."""
    errors = []
    steepest = 0.5 * (GAMMA + 1.0) / (0.5 * (GAMMA - 1.0)) * WAVE_SWING * 2.0 * math.pi
    seconds = WAVE_TIME / steepest
    for cells in GRIDS:
        duct = _simple_wave(cells)
        march(duct, seconds)
        exact = _cell_means(lambda x: _wave_density(_start_of(x, seconds)), cells)
        errors.append(float(np.mean(np.abs(duct.field("rho") - exact))))
    return errors


def _sound(x: Numbers) -> Numbers:
    return 1.0 + WAVE_SWING * np.sin(2.0 * math.pi * x)


def _wave_density(x: Numbers) -> Numbers:
    return _sound(x) ** (2.0 / (GAMMA - 1.0))


def _wave_speed(x: Numbers) -> Numbers:
    return 2.0 / (GAMMA - 1.0) * (_sound(x) - 1.0)


def _start_of(x: Numbers, seconds: float) -> Numbers:
    """Where the point of the wave that is at `x` now started from."""
    start = x - seconds
    for _ in range(60):
        miss = start + seconds * (_wave_speed(start) + _sound(start)) - x
        slope = WAVE_SWING * 2.0 * math.pi * np.cos(2.0 * math.pi * start) * (2.0 / (GAMMA - 1.0) + 1.0)
        start = start - miss / (1.0 + seconds * slope)
    return start


def _simple_wave(cells: int) -> BareDuct:
    """Cell means of what is conserved, turned into the state that the duct takes."""
    rho = _cell_means(_wave_density, cells)
    momentum = _cell_means(lambda x: _wave_density(x) * _wave_speed(x), cells)

    def energy_of(x: Numbers) -> Numbers:
        pressure = _wave_density(x) ** GAMMA / GAMMA
        return pressure / (GAMMA - 1.0) + 0.5 * _wave_density(x) * _wave_speed(x) ** 2

    energy = _cell_means(energy_of, cells)
    pressure = (GAMMA - 1.0) * (energy - 0.5 * momentum**2 / rho)
    return bare_duct(1.0, cells, GAMMA, rho, momentum / rho, pressure, periodic=True)


def _ones(like: Numbers) -> Numbers:
    return np.ones_like(like)


def _cell_means(function: Callable[[Numbers], Numbers], cells: int) -> Numbers:
    """Mean of a function over each of the cells of the unit length (three-point Gauss)."""
    middle = (np.arange(cells) + 0.5) / cells
    reach = math.sqrt(0.6) / (2.0 * cells)
    return (5.0 * function(middle - reach) + 8.0 * function(middle) + 5.0 * function(middle + reach)) / 18.0
