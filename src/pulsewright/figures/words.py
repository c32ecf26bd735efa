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

# moving page
PAGE_TITLE = "The echo in the pipe"
PLAY, PAUSE = "Play", "Pause"
STEP_BACK, STEP_ON = "Step back", "Step on"
TO_ECHO = "Go to the echo"
CRANK_SLIDER = "Crank angle"
SPEED_CHOICE = "Pace"
PACES = ((0.1, "slow"), (0.25, "medium"), (0.6, "fast"))
MAP_CHOICE = "Map shows"
MAP_NAMES = (("total", "all of it"), ("away", "running away"), ("back", "coming back"))
LANE_NAMES = {"total": "pressure", "away": "away \u2192", "back": "\u2190 back"}
BOTH_SHUT = "both valves shut"
ONLY_EXHAUST = "exhaust valve open"
ONLY_INTAKE = "intake valve open"
BOTH_VALVES = "both valves open"
AT_THE_VALVE = "At the exhaust valve"
OF_IT_BACK = "the wave coming back brings"
ECHO_HERE = "echo arrives"
KEYS = (
    "Keys: space plays and pauses, the arrows step, page up and page down step by 30°, "
    "E goes to the echo, home to the start."
)
NO_SCRIPT = "This page moves where scripts are allowed. The picture below says the same."
STILL_PICTURE = "The same as a still picture"
COLOUR_KEY = "Orange is pressure above the air outside, blue is suction."

# torque chart
TORQUE = "torque, N·m"
LAMBDA = "lambda"
SPEED = "engine speed, rpm"
RIDING_BAND = "riding band"
HOLE = "hole"
LEANER = "leaner"
RICHER = "richer"
TARGET = "target"
TARGET_LAMBDA = "target lambda"
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


def picture_subtitle(field: EchoField) -> str:
    """Which cylinder, how fast, and how crank angle turns into time."""
    quarter = f"90° take {90.0 / field.degrees_per_millisecond:.1f}{THIN_SPACE}ms"
    return f"cylinder {field.cylinder} at {rpm(field.rpm)}; {TIME_RUNS_DOWN}, {quarter}"


def picture_description(field: EchoField) -> str:
    """What a person who cannot see the picture should be told."""
    length = 1e3 * float(field.place[-1])
    return (
        f"Pressure in the exhaust pipe of cylinder {field.cylinder} at {rpm(field.rpm)}, "
        f"over {length:.0f} mm of pipe and one engine cycle. {echo_sentence(field)} "
        f"{arrival_label(field)[0].upper()}"
        f"{arrival_label(field)[1:]}."
    )


# difference of two setups
TORQUE_WORD = "torque"
DIFFERENCE = "torque of {second} over {first}, %"
DIFFERENCE_RAW = "bins of 50 rpm, unsmoothed"
DIFFERENCE_TREND = "along the trend, 300 rpm to each side"
DIFFERENCE_BAND = "holds the whole curve over the shaded speeds with 95 % certainty"
DIFFERENCE_WORST = "worst"

# gain of changes against their cost at the top end
THROTTLE_MAP_KEY = "bars: share of the fuel by what holds it back; number: lambda drawn in; wide open on top"
THROTTLE_MAP = "{name}: which circuit feeds it, over engine speed and throttle"
GAIN_AXIS = "torque in the riding band, %"
TOP_AXIS = "torque at the top end, %"
GAIN_CHOSEN = "recommended"
GAIN_OTHER = "not recommended"
GAIN_REFUSED = "refused by a gate"
GAIN_SIZE = "larger disc: takes longer"
