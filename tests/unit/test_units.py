import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pulsewright.errors import InputError
from pulsewright.units import KINDS, quantity, show


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("44 mm", "length", 0.044),
        ("44mm", "length", 0.044),
        ("44 MM", "length", 0.044),
        ("1,75 in", "length", 0.04445),
        ("1 3/4 in", "length", 0.04445),
        ('3/4"', "length", 0.01905),
        ("60 thou", "length", 0.001524),
        ("18 degC", "temperature", 291.15),
        ("18 °C", "temperature", 291.15),
        ("64,4 F", "temperature", 291.15),
        ("5 K", "temperature_difference", 5.0),
        ("9 degF", "temperature_difference", 5.0),
        ("1002 hPa", "pressure", 100200.0),
        ("72 cc", "volume", 72e-6),
        ("90 km/h", "speed", 25.0),
        ("98 Nm", "torque", 98.0),
        ("2200 1/min", "speed_rpm", 2200.0),
        ("50 rps", "speed_rpm", 3000.0),
        ("45 %", "fraction", 0.45),
        ("32 deg", "angle_deg", 32.0),
        ("-4°", "angle_deg", -4.0),
        ("0.745 kg/l", "density", 745.0),
        ("42,7 MJ/kg", "specific_energy", 42.7e6),
        (2200, "speed_rpm", 2200.0),
        (0, "length", 0.0),
        (9.2, "ratio", 9.2),
    ],
)
def test_what_is_written_on_benches_is_read(text: str | float, kind: str, value: float):
    assert quantity(text, kind) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("value", "kind", "reason"),
    [
        ("44 kg", "length", "measures something else"),
        ("44 blub", "length", "not a unit"),
        ("44 __import__('os')", "length", "not a unit"),
        ("1,234.5 mm", "length", "no single number"),
        ("100 000 mm", "length", "no single number"),
        ("mm", "length", "no single number"),
        ("", "length", "no single number"),
        (44, "length", "has no unit"),
        ("18", "temperature", "has no unit"),
        (0, "temperature", "has no unit"),
        (float("nan"), "ratio", "not finite"),
        ("1e400 mm", "length", "not finite"),
        (True, "length", "is not a length"),
        ([44], "length", "is not a length"),
        ("1/0 in", "length", "divides by zero"),
        ("45 deg", "ratio", "not a unit for it"),
        ("50 Hz", "speed_rpm", "not a unit for it"),
        ("45 %", "angle_deg", "not a unit for it"),
    ],
)
def test_what_cannot_be_meant_is_refused(value: object, kind: str, reason: str):
    with pytest.raises(InputError, match=reason) as caught:
        quantity(value, kind, where="twin.toml, engine.bore")  # pyright: ignore[reportArgumentType]
    assert caught.value.where == "twin.toml, engine.bore"
    assert caught.value.hint


def test_an_unknown_kind_is_a_defect_of_the_caller():
    with pytest.raises(ValueError, match="length"):
        quantity("44 mm", "lenght")


@pytest.mark.parametrize(
    ("value", "kind", "text"),
    [
        (0.044, "length", "44 mm"),
        (291.15, "temperature", "18 °C"),
        (100200.0, "pressure", "100.2 kPa"),
        (32.0, "angle_deg", "32°"),
        (2200.0, "speed_rpm", "2200 rpm"),
        (0.45, "fraction", "45 %"),
        (9.2, "ratio", "9.2"),
    ],
)
def test_values_are_shown_in_the_unit_of_the_bench(value: float, kind: str, text: str):
    assert show(value, kind) == text


@given(kind=st.sampled_from(sorted(KINDS)), value=st.floats(min_value=1e-6, max_value=1e6))
def test_shown_text_is_read_back(kind: str, value: float):
    back = quantity(show(value, kind, digits=12), kind)
    # a temperature is shown from another zero, which costs digits near that zero
    assert math.isclose(back, value, rel_tol=1e-10, abs_tol=1e-9 if kind == "temperature" else 0.0)
