"""The echo picture that moves: one self-contained page, played or stepped through over the crank angle."""

from __future__ import annotations

import base64
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pulsewright.figures import words
from pulsewright.figures.echo_picture import MARGIN_OF_RULE, echo_svg, resample
from pulsewright.figures.numbers import number, rpm
from pulsewright.figures.palette import (
    OPACITY_POWER,
    OVERPRESSURE,
    PAPER,
    SLATE,
    SUCTION,
    css_variables,
    full_scale,
)
from pulsewright.figures.pipe_outline import labels, outline_shapes, route_length, widest
from pulsewright.simulate.echo_field import EchoField

TEMPLATES = Path(__file__).parent / "templates"
MOST_PLACES, MOST_ANGLES = 160, 361  # what is embedded at most: 2 degrees and a pixel of a screen
FINEST = 32_000  # steps of an int16 that stand for the largest pressure


def write_echo_page(field: EchoField, path: str | Path) -> Path:
    """Write `echo_html` into a file and return where it lies."""
    path = Path(path)
    path.write_text(echo_html(field), encoding="utf-8")
    return path


def echo_html(field: EchoField) -> str:
    """A self-contained page: pipe to scale, the waves in it, the map with the moment marked, and controls."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined
    from markupsafe import Markup

    rooms = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return rooms.get_template("echo.html.j2").render(
        words=words,
        sentence=words.echo_sentence(field),
        subtitle=f"cylinder {field.cylinder} at {rpm(field.rpm)}",
        description=words.picture_description(field),
        paper=Markup(css_variables(PAPER)),
        slate=Markup(css_variables(SLATE)),
        still=Markup(echo_svg(field)),
        still_narrow=Markup(echo_svg(field, layout="narrow", name="small-echo")),
        has_echo=field.echo_arrival_deg is not None,
        data=page_data(field),
        said=_said(),
    )


def page_data(field: EchoField, places: int = MOST_PLACES, angles: int = MOST_ANGLES) -> dict[str, Any]:
    """All that a script draws from; pressures as base64 of int16 with one factor for all three. [kPa]

    places, angles : at most so many.
    """
    n_place, n_angle = min(field.place.size, places), min(field.crank_deg.size, angles)
    waves = {"total": field.pressure - field.ambient, "away": field.forward, "back": field.returning}
    grids = {name: resample(field, values, n_place, n_angle) for name, values in waves.items()}
    largest = max(float(np.max(np.abs(grid))) for grid in grids.values()) or 1.0
    at = np.linspace(field.crank_deg[0], field.crank_deg[-1], n_angle)
    return {
        "nPlace": n_place,
        "nAngle": n_angle,
        "crank": [float(field.crank_deg[0]), float(field.crank_deg[-1])],
        "place": [1e3 * float(field.place[0]), 1e3 * float(field.place[-1])],
        "factor": largest / FINEST / 1e3,
        "waves": {name: packed(grid * (FINEST / largest)) for name, grid in grids.items()},
        "scale": full_scale(*waves.values()) / 1e3,
        "power": OPACITY_POWER,
        "orange": OVERPRESSURE,
        "blue": SUCTION,
        "rule": MARGIN_OF_RULE * max(route_length(field.outline), 1e3 * float(field.place[-1])),
        "bore": widest(field.outline[:1]),
        "shapes": [[shape.role, [[round(v, 1) for v in xy] for xy in shape.points]] for shape in _shapes(field)],
        "labels": [[round(place, 1), text] for place, text in labels(field.outline)],
        "end": route_length(field.outline) or 1e3 * float(field.place[-1]),
        "exhaust": list(field.exhaust_window),
        "intake": list(field.intake_window),
        "liftExhaust": _lift(field, field.lift_exhaust, at),
        "liftIntake": _lift(field, field.lift_intake, at),
        "arrival": field.echo_arrival_deg,
        "arrivalText": words.arrival_label(field),
        "degreesPerMs": field.degrees_per_millisecond,
    }


def packed(values: NDArray[np.float64]) -> str:
    """(n_place, n_angle) as base64 of little-endian int16, place by place within each angle."""
    return base64.b64encode(np.round(values.T).astype("<i2").tobytes()).decode("ascii")


def unpacked(text: str, n_place: int, n_angle: int) -> NDArray[np.int16]:
    """What `packed` wrote, back as (n_place, n_angle)."""
    return np.frombuffer(base64.b64decode(text), dtype="<i2").reshape(n_angle, n_place).T


def _shapes(field: EchoField) -> list[Any]:
    return outline_shapes(field.outline)


def _lift(field: EchoField, lift: NDArray[np.float64], angles: NDArray[np.float64]) -> list[float]:
    """Valve lift at the embedded angles. [mm]"""
    return [round(1e3 * float(v), 2) for v in np.interp(angles, field.crank_deg, lift)]


def _said() -> dict[str, Any]:
    """The words that the script needs."""
    return {
        "play": words.PLAY,
        "pause": words.PAUSE,
        "lanes": words.LANE_NAMES,
        "shut": words.BOTH_SHUT,
        "exhaust": words.ONLY_EXHAUST,
        "intake": words.ONLY_INTAKE,
        "both": words.BOTH_VALVES,
        "valve": words.AT_THE_VALVE,
        "back": words.OF_IT_BACK,
        "echo": words.ECHO_HERE,
        "exhaustShort": words.EXHAUST_OPEN,
        "intakeShort": words.INTAKE_OPEN,
        "minus": number(-1.0)[0],
    }
