"""Every text that stands in a picture. The words of the report are in `pulsewright.report.words`."""

from __future__ import annotations

from pulsewright.figures.numbers import THIN_SPACE, rpm, signed
from pulsewright.simulate.echo_field import EchoField

# echo picture
PLACE = "distance from the exhaust valve, mm"
CRANK = "crank angle, degrees after firing top dead centre"
CRANK_SHORT = "crank"
TIME_RUNS_DOWN = "time runs down"
TOTAL = "Pressure in the pipe"
AWAY = "Running away from the valve"
BACK = "Coming back to the valve"
EXHAUST_OPEN = "exhaust open"
INTAKE_OPEN = "intake open"
BOTH_OPEN = "both open"
SCALE = "pressure against the air outside, kPa"
ABOVE = "orange: above the air outside"
BELOW = "blue: below it (suction)"
RULE = "mm"
VALVE = "valve"

# torque chart
TORQUE = "torque, N·m"
LAMBDA = "lambda"
SPEED = "engine speed, rpm"
RIDING_BAND = "riding band"
HOLE = "hole"
LEANER = "leaner"
RICHER = "richer"
TARGET = "target"
LEAN_GATE = "lean limit"
NO_LAMBDA = "No lambda channel in these pulls."
NO_CURVES = "No torque curve to show."
MEASURED = "measured"
MODEL = "model"
NO_ECHO = "model, echo switched off"
SPREAD = "shaded: where the mean lies with 95\u202f% certainty"

# cause bars
SHARE_AXIS = "share of the lost torque that came back, %"
NO_SHARES = "No cause was split here."


def arrival_label(field: EchoField) -> str:
    """What to write at the moment the echo arrives, `echo arrives at 362 deg: +9 kPa (pressure)`."""
    if field.echo_arrival_deg is None:
        return "no clear echo"
    size = f"{signed(field.echo_pressure / 1e3, 1)}{THIN_SPACE}kPa"
    return f"echo arrives at {field.echo_arrival_deg:.0f}°: {size} ({field.echo_sign})"


def echo_sentence(field: EchoField) -> str:
    """The field's own sentence, or one made from its numbers where it brings none."""
    if field.sentence.strip():
        return field.sentence.strip()
    if field.echo_arrival_deg is None:
        return f"At {rpm(field.rpm)} no clear echo reaches the exhaust valve."
    return f"At {rpm(field.rpm)} the echo reaches the exhaust valve {_when(field)} {_effect(field)}."


def _when(field: EchoField) -> str:
    arrival, both = field.echo_arrival_deg, field.overlap
    assert arrival is not None
    if both is not None and both[0] <= arrival <= both[1]:
        return "while both valves are open"
    if field.exhaust_window[0] <= arrival <= field.exhaust_window[1]:
        return "while the exhaust valve is open"
    return "after the exhaust valve has closed"


def _effect(field: EchoField) -> str:
    if _when(field).startswith("after"):
        return f"as {'a push' if field.echo_sign == 'pressure' else 'suction'}"
    if field.echo_sign == "pressure":
        return "as a push: it holds burned gas in the cylinder"
    return "as suction: it helps to empty the cylinder"


def picture_description(field: EchoField) -> str:
    """What a person who cannot see the picture should be told."""
    length = 1e3 * float(field.place[-1])
    return (
        f"Pressure in the exhaust pipe of cylinder {field.cylinder} at {rpm(field.rpm)}, "
        f"over {length:.0f} mm of pipe and one engine cycle. {echo_sentence(field)} {arrival_label(field)[0].upper()}"
        f"{arrival_label(field)[1:]}."
    )
