"""Relations inside the bands that handbooks give (all bands from memory; Heywood 1988 where not said)."""

import numpy as np
import pytest

from pulsewright.physics import wiebe
from pulsewright.physics.burn_duration import REFERENCE_DURATION_DEG
from pulsewright.physics.flame_speed import gasoline_flame_speed
from pulsewright.physics.jet_flow import short_tube_cd
from pulsewright.physics.power_versus_mixture import firing_share, mixture_factor


def test_the_flame_is_fastest_a_little_rich():
    """Laminar burning velocity of petrol peaks at lambda 0.80 to 0.93."""
    grid = np.linspace(0.7, 1.2, 101)
    speed = [gasoline_flame_speed(1.0 / x, 298.0, 101325.0, 0.0) for x in grid]
    assert 0.80 <= grid[int(np.argmax(speed))] <= 0.93


def test_torque_lost_at_lambda_one():
    """2 to 5 % below best torque."""
    assert 0.02 <= 1.0 - mixture_factor(1.0) <= 0.05


def test_best_torque_lies_rich():
    """Lambda 0.85 to 0.92."""
    grid = np.linspace(0.6, 1.3, 141)
    best = grid[int(np.argmax([mixture_factor(x) for x in grid]))]
    assert 0.84 <= best <= 0.92


def test_misfire_limits():
    """Rich limit lambda 0.50 to 0.65, lean misfire 1.20 to 1.40, homogeneous charge."""
    grid = np.linspace(0.4, 1.6, 1201)
    fires = np.array([firing_share(x) for x in grid]) >= 0.5
    low, high = grid[fires][0], grid[fires][-1]
    assert 0.50 <= low <= 0.65
    assert 1.20 <= high <= 1.40


def test_main_burn_takes_20_to_40_degrees():
    start, a, m = 0.0, wiebe.A_999, wiebe.M_USUAL
    ends = [wiebe.angle_of_fraction(x, start, REFERENCE_DURATION_DEG, a, m) for x in (0.1, 0.9)]
    assert 20.0 <= ends[1] - ends[0] <= 40.0


@pytest.mark.parametrize("reynolds", [2000.0, 5000.0, 20000.0])
def test_jet_coefficient(reynolds: float):
    """Chamfered short tube: 0.70 to 0.85 above Re 2000."""
    assert 0.70 <= short_tube_cd(reynolds, 3.0) <= 0.85


def test_jet_coefficient_falls_at_low_flow():
    assert short_tube_cd(300.0, 3.0) < 0.9 * short_tube_cd(5000.0, 3.0)
