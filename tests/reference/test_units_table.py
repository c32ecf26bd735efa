"""Conversion factors that are exact by definition, or follow from exact ones.

Sources   inch 25.4 mm, pound 0.453 592 37 kg (international yard and pound, 1959);
          standard gravity 9.806 65 m/s² (3rd CGPM, 1901); degree Fahrenheit 5/9 K, 32 °F = 0 °C;
          mechanical horsepower 550 ft lbf/s, metric horsepower 75 kgf m/s;
          inch of mercury at 0 °C 3386.389 Pa (NIST SP 811, 2008, appendix B.8).
"""

import pytest

from pulsewright.units import quantity

POUND_FORCE = 0.45359237 * 9.80665  # [N]
FOOT = 0.3048  # [m]


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("1 in", "length", 0.0254),
        ("1 lbf ft", "torque", POUND_FORCE * FOOT),
        ("1 hp", "power", 550 * POUND_FORCE * FOOT),
        ("1 PS", "power", 75 * 9.80665),
        ("1 lb", "mass", 0.45359237),
        ("1 psi", "pressure", POUND_FORCE / 0.0254**2),
        ("1 bar", "pressure", 1e5),
        ("32 degF", "temperature", 273.15),
        ("212 degF", "temperature", 373.15),
    ],
)
def test_exact_factors(text: str, kind: str, value: float):
    assert quantity(text, kind) == pytest.approx(value, rel=1e-12)


def test_inch_of_mercury_is_that_of_cold_mercury():
    # printed to seven digits
    assert quantity("1 inHg", "pressure") == pytest.approx(3386.389, abs=0.0005)


@pytest.mark.parametrize(
    ("torque", "rpm", "power"),
    [("1 lbf ft", 5252.113, "1 hp"), ("1 N m", 9549.297, "1 kW")],
)
def test_torque_and_power_cross_where_they_must(torque: str, rpm: float, power: str):
    """Power is torque times angular speed; printed to seven digits."""
    watts = quantity(torque, "torque") * rpm * 2 * 3.141592653589793 / 60
    assert watts == pytest.approx(quantity(power, "power"), rel=1e-6)
