"""A passage that hardly opens, as a valve does in a step of the march: Newton stops only where its flow is right.

Expected values are the flow through a restriction from the stagnation state upstream to the pressure downstream
(St. Venant & Wantzel 1839), from the states that the passage itself returns: both must belong to each other.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from pulsewright.kernel.passage import NO_DUCT, Side, runs_forward, settled_flow
from pulsewright.physics.restriction_flow import restriction_mass_flow

GAMMA, R, WIDTH = 1.35, 287.0, 1e-3  # [-], [J/(kg K)], duct area [m²]
FURTHER_OPEN = 1.05  # a valve opens by a twentieth in a step
TOLERANCE = 2e-5


def _side(is_duct: bool, p: float, T: float, u: float = 0.0) -> Side:
    sound = math.sqrt(GAMMA * R * T)
    return Side(WIDTH if is_duct else NO_DUCT, p, u, sound, GAMMA, R * T, GAMMA * R / (GAMMA - 1.0) * T, 0.0)


def _admitted(area: float, found: tuple[float, ...]) -> float:
    """What the passage lets through by the formula, from the states at its sides. [kg/s]"""
    _flow, p_up, u_up, p_down, _u, h0, *_ = found
    T0 = h0 * (GAMMA - 1.0) / (GAMMA * R)
    T = T0 - 0.5 * u_up * u_up * (GAMMA - 1.0) / (GAMMA * R)
    return restriction_mass_flow(area, p_up * (T0 / T) ** (GAMMA / (GAMMA - 1.0)), T0, p_down, GAMMA, R)


@pytest.mark.parametrize("area", [1e-8, 1e-6, 1e-5, 1e-4])
@pytest.mark.parametrize(("up", "down"), [(True, False), (False, True), (True, True)])
@pytest.mark.parametrize("pressure", [1.0001e5, 1.05e5, 4e5])
def test_from_a_little_less_open_it_finds_the_flow(area: float, up: bool, down: bool, pressure: float):
    sides = _side(up, pressure, 600.0), _side(down, 1e5, 500.0)
    before = settled_flow(*sides, area, math.inf, 1.0, 1.0)
    found = settled_flow(*sides, FURTHER_OPEN * area, math.inf, before[6], before[7])
    assert found[8]
    assert found[0] == pytest.approx(_admitted(FURTHER_OPEN * area, found), rel=TOLERANCE)


@pytest.mark.parametrize(("up", "down"), [(True, False), (False, True), (True, True)])
@pytest.mark.parametrize("pressure", [1.0001e5, 1.05e5, 1.5e5])
def test_from_a_start_just_beside_the_answer_it_is_the_answer(up: bool, down: bool, pressure: float):
    sides = _side(up, pressure, 600.0), _side(down, 1e5, 500.0)
    answer = settled_flow(*sides, 1e-6, math.inf, 1.0, 1.0)
    beside = settled_flow(*sides, 1e-6, math.inf, answer[6] + 9e-6, answer[7] + 9e-6)
    assert beside[0] == pytest.approx(answer[0], rel=TOLERANCE)


def _drawn_sides(rng: np.random.Generator) -> tuple[Side, Side]:
    """A duct end and another one or a room, in the order of the flow; a third of them nearly level."""
    is_duct = True, bool(rng.random() < 0.5)
    speeds = rng.uniform(-0.9, 0.95, 2) * rng.choice([0.0, 0.01, 0.3, 1.0], 2)
    pressures = 1e5 * 10.0 ** rng.uniform(-0.5, 1.0, 2)
    if rng.random() < 1.0 / 3.0:
        pressures[1] = pressures[0] * (1.0 + rng.choice([-1.0, 1.0]) * 10.0 ** rng.uniform(-8.0, -1.0))
    sides = [_side(d, p, T) for d, p, T in zip(is_duct, pressures, rng.uniform(250.0, 2000.0, 2), strict=True)]
    a, b = (s._replace(u=speed * s.sound) for s, speed in zip(sides, speeds, strict=True))
    return (a, b) if runs_forward(a, b) else (b, a)


def test_every_start_settles_and_nearly_every_one_finds_the_same_flow():
    """From slits to full width, 99 in 100 within 1e-4 of about what the passage would pass at the speed of sound.

    Where a start lies far from the answer of a slit, the last step may leave out more than that.
    """
    rng, apart = np.random.default_rng(7), []
    for _ in range(3000):
        up, down = _drawn_sides(rng)
        area = WIDTH * 10.0 ** rng.uniform(-5.0, 0.0)
        starts = [(1.0, 1.0), (0.95, 1.02), tuple(rng.uniform(0.8, 1.2, 2))]
        found = [settled_flow(up, down, area, math.inf, *start) for start in starts]
        assert all(f[8] for f in found), (up, down, area)
        sonic = area * max(up.p, down.p) / up.sound
        apart.append(np.ptp([f[0] for f in found]) / sonic)
    assert np.quantile(apart, 0.99) < 1e-4
