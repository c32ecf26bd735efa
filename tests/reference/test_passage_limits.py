"""Passages at the limits of their own equations: sonic at full width, two rooms that have levelled.

Expected values are closed formulas: choked flow of the stagnation state (St. Venant & Wantzel 1839), and the
common pressure of two rooms that share their gas (energy: p V of both adds up).
"""

from __future__ import annotations

import math

import pytest

from pulsewright.kernel.passage import Side, settled_flow
from pulsewright.outside.tube_rig import Rig
from pulsewright.physics.restriction_flow import restriction_mass_flow

GAMMA, R = 1.35, 287.0


def _end(p: float, T: float, mach: float, area: float) -> Side:
    sound = math.sqrt(GAMMA * R * T)
    h = GAMMA * R / (GAMMA - 1.0) * T
    return Side(area, p, mach * sound, sound, GAMMA, R * T, h, 0.0)


def test_a_full_width_end_that_blows_at_sonic_speed_passes_the_choked_flow():
    area = 1e-3
    up, down = _end(3e5, 800.0, 0.9, area), _end(0.5e5, 500.0, 0.0, 20.0 * area)
    flow, p_up, u_up, _p, _u, h0, x, _y, settled = settled_flow(up, down, area, math.inf, 1.0, 1.0)
    sound = up.sound * x
    p0 = p_up * (1.0 + 0.5 * (GAMMA - 1.0) * (u_up / sound) ** 2) ** (GAMMA / (GAMMA - 1.0))
    T0 = h0 * (GAMMA - 1.0) / (GAMMA * R)
    assert settled
    # the flow is at its maximum here, so it is true to the square of this
    assert u_up == pytest.approx(sound, rel=1e-6)
    assert flow == pytest.approx(restriction_mass_flow(area, p0, T0, 0.0, GAMMA, R), rel=1e-9)


@pytest.mark.parametrize("mach", [0.0, 0.5, 0.99, 1.0])
def test_every_start_of_a_choked_end_is_solved(mach):
    area = 1e-3
    up, down = _end(3e5, 800.0, mach, area), _end(0.5e5, 500.0, 0.0, 20.0 * area)
    for guess in (0.5, 0.9, 1.0, 1.2):
        *numbers, settled = settled_flow(up, down, area, math.inf, guess, 1.0)
        assert settled
        assert all(math.isfinite(n) for n in numbers)


def test_two_rooms_behind_a_wide_passage_level_and_then_rest():
    rig = Rig(gamma=GAMMA, gas_constant=R, p=1e5, T=300.0)
    duct = rig.duct((0.1, 0.03, 0.03), cell=0.01)  # sets the time step
    rig.assembly.close(duct.head)
    rig.assembly.close(duct.tail)
    rooms = rig.room(6e-5, 2e5), rig.room(1.5e-3, 1e5)
    rig.assembly.join(*rooms, 5e-4, 5e-4)
    rig.close().march(0.05)
    level = (2e5 * 6e-5 + 1e5 * 1.5e-3) / (6e-5 + 1.5e-3)
    assert rig.arrays["reservoirs"]["p"] == pytest.approx([level, level], rel=1e-12)
