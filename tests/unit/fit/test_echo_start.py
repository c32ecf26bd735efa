"""Where a search for the best fit starts: holes of the model laid over the measured ones."""

import numpy as np
import pytest

from pulsewright.fit.echo_start import echo_way

RPM = np.linspace(2200.0, 5800.0, 15)


def torque(bottom: float, depth: float = 0.15, level: float = 100.0, tilt: float = 0.0) -> np.ndarray:
    """A healthy arch with a hole at `bottom` and the shoulder above it. [N m]"""
    arch = 1.0 - 0.2 * ((RPM - 3800.0) / 1800.0) ** 2 + tilt * (RPM - 4000.0) / 2000.0
    hole = np.exp(-0.5 * ((RPM / bottom - 1.0) / 0.11) ** 2)
    shoulder = np.exp(-0.5 * ((RPM / (1.33 * bottom) - 1.0) / 0.11) ** 2)
    return level * arch * (1.0 - depth * hole + 0.3 * depth * shoulder)


@pytest.mark.parametrize("early", [0.94, 1.06])
def test_a_model_whose_hole_comes_early_or_late_gets_a_shorter_or_longer_way(early: float):
    """A hole moves with the way to the power of about 0.7 (common practice: +20 % of pipe, -8 to -17 % of speed)."""
    curves = [
        (RPM, torque(3200.0), torque(3200.0 * early, level=85.0, tilt=0.05)),
        (RPM, torque(3200.0, 0.08), torque(3200.0 * early, 0.07, level=85.0)),
    ]
    assert echo_way(curves) == pytest.approx(early ** (1.0 / 0.7), abs=0.02)


def test_a_model_whose_hole_lies_right_keeps_its_way():
    assert echo_way([(RPM, torque(3200.0), torque(3200.0, 0.1, level=90.0, tilt=-0.05))]) == 1.0


def test_curves_without_a_hole_tell_nothing():
    random = np.random.default_rng(5)
    rough = 1.0 + 0.004 * random.standard_normal((2, RPM.size))
    assert echo_way([(RPM, torque(3200.0, 0.0) * rough[0], torque(3200.0, 0.0) * rough[1])]) == 1.0


def test_a_handful_of_speeds_tells_nothing():
    few = slice(0, 5)
    assert echo_way([(RPM[few], torque(3200.0)[few], torque(3500.0)[few])]) == 1.0
    assert echo_way([]) == 1.0
