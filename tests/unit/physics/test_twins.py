"""Compiled functions give what the same lines give in plain Python."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pulsewright.physics import (
    burned_composition,
    cylinder_heat,
    flame_speed,
    knock_delay,
    needle_annulus,
    pipe_friction,
    pipe_heat,
    power_versus_mixture,
    slider_crank,
    throttle_openings,
    valve_flow,
    wiebe,
)

unit = st.floats(0.0, 1.0)
TWINS = [
    (pipe_friction.darcy_factor, lambda a, b, c: (10.0 ** (1 + 6 * a), 0.01 * b)),
    (pipe_heat.natural_convection, lambda a, b, c: (0.02 + 0.1 * a, 310.0 + 800.0 * b, 300.0, 1e5)),
    (
        flame_speed.gasoline_flame_speed,
        lambda a, b, c: (0.5 + 1.3 * a, 300.0 + 500.0 * b, 1e5 + 4e6 * c, 0.1),
    ),
    (knock_delay.autoignition_delay, lambda a, b, c: (80.0 + 20.0 * a, 1e5 + 5e6 * b, 400.0 + 700.0 * c)),
    (wiebe.burned_fraction, lambda a, b, c: (200.0 * a - 50.0, 10.0 * b, 20.0 + 60.0 * c, 5.0, 2.0)),
    (cylinder_heat.woschni, lambda a, b, c: (0.09, 1e4 + 5e6 * a, 300.0 + 2000.0 * b, 60.0 * c)),
    (slider_crank.cylinder_volume, lambda a, b, c: (720.0 * a, 0.09, 0.08, 0.12 + 0.1 * b, 8.0 + 4.0 * c)),
    (valve_flow.inlet_area, lambda a, b, c: (0.02 * a, 0.03 + 0.02 * b, 1e-3)),
    (power_versus_mixture.mixture_factor, lambda a, b, c: (0.3 + 1.4 * a,)),
    (throttle_openings.throttle_plate_loss, lambda a, b, c: (a, 25.0 * b)),
    (throttle_openings.slide_area, lambda a, b, c: (0.05 * a, 0.01 + 0.04 * b)),
    (throttle_openings.slide_loss, lambda a, b, c: (0.05 * a, 0.01 + 0.04 * b)),
    (needle_annulus.needle_diameter, lambda a, b, c: (0.04 * a, 0.02 * b, 2.5e-3, 0.1 * c)),
    (needle_annulus.needle_annulus, lambda a, b, c: (2e-3 + 1e-3 * a, 3e-3 * b)),
    (burned_composition.released_heat_fraction, lambda a, b, c: (0.4 + a, 1.8 + b, 0.5 * c, 43e6)),
]


@pytest.mark.parametrize(("function", "arguments"), TWINS, ids=lambda x: getattr(x, "__name__", ""))
@settings(max_examples=25, deadline=None)
@given(a=unit, b=unit, c=unit)
def test_compiled_is_plain_python(function, arguments, a: float, b: float, c: float):
    call = arguments(a, b, c)
    compiled, plain = function(*call), function.py_func(*call)
    assert math.isfinite(compiled)
    assert compiled == pytest.approx(plain, rel=1e-10, abs=1e-14)
