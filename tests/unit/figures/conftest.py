"""Made-up echo fields for the drawing tests: a pulse that runs out at the speed of sound and comes back."""

from __future__ import annotations

import numpy as np
import pytest

from pulsewright.simulate.echo_field import EchoField, OutlinePart

LENGTH = 0.97  # [m]
SPEED = 520.0  # [m/s] sound
AMBIENT = 100_000.0  # [Pa]
RPM = 3000.0

OPEN_PIPE = (
    OutlinePart(kind="port", start=0.0, end=0.07, bore_start=0.040, bore_end=0.040, label="port"),
    OutlinePart(kind="pipe", start=0.07, end=0.97, bore_start=0.044, bore_end=0.044, label="pipe 900 mm, bore 44 mm"),
    OutlinePart(kind="cross-bolt", start=0.92, end=0.92, bore_start=0.044, bore_end=0.008, label="bolt 8 mm"),
    OutlinePart(kind="end", start=0.97, end=0.97, bore_start=0.044, bore_end=0.044, label="open"),
)
WITH_MUFFLER = (
    OutlinePart(kind="port", start=0.0, end=0.07, bore_start=0.040, bore_end=0.040, label="port"),
    OutlinePart(kind="pipe", start=0.07, end=0.35, bore_start=0.038, bore_end=0.044, label="cone"),
    OutlinePart(kind="plate", start=0.30, end=0.30, bore_start=0.043, bore_end=0.016, label="plate"),
    OutlinePart(kind="muffler", start=0.35, end=0.85, bore_start=0.110, bore_end=0.044, label="muffler, packed core"),
    OutlinePart(kind="pipe", start=0.85, end=0.97, bore_start=0.036, bore_end=0.036, label="tail"),
    OutlinePart(kind="end", start=0.97, end=0.97, bore_start=0.036, bore_end=0.036, label="flanged"),
)


def pulse(time: np.ndarray, width: float = 1.6e-3) -> np.ndarray:
    """A rounded push of height 1 at time 0."""
    return np.exp(-((time / width) ** 2))


def lift(crank: np.ndarray, opens: float, closes: float) -> np.ndarray:
    """A smooth valve lift of 10 mm. [m]"""
    return 0.01 * np.sin(np.pi * np.clip((crank - opens) / (closes - opens), 0.0, 1.0)) ** 2


def made_up_field(n_place: int = 80, n_angle: int = 361, outline: tuple[OutlinePart, ...] = OPEN_PIPE) -> EchoField:
    """A push at 165 degrees, turned into suction at the open end and into a push again after the valve."""
    crank = np.linspace(0.0, 720.0, n_angle)
    place = np.linspace(0.0, LENGTH, n_place)
    ms = (crank[None, :] - 165.0) / (RPM * 6.0)
    away, back = place[:, None] / SPEED, (2 * LENGTH - place[:, None]) / SPEED
    trip = 2 * LENGTH / SPEED
    forward = np.zeros((n_place, n_angle))
    returning = np.zeros((n_place, n_angle))
    for turn in range(6):
        strength = 40e3 * (-0.72) ** turn
        forward += strength * pulse(ms - turn * trip - away)
        returning += -0.9 * strength * pulse(ms - turn * trip - back)
    arrival = int(np.argmax(np.where((crank > 300) & (crank < 420), returning[0], -1e9)))
    return EchoField(
        rpm=RPM,
        cylinder=1,
        crank_deg=crank,
        place=place,
        pressure=AMBIENT + forward + returning,
        forward=forward,
        returning=returning,
        ambient=AMBIENT,
        intake_window=(338.0, 594.0),
        exhaust_window=(126.0, 382.0),
        lift_intake=lift(crank, 338.0, 594.0),
        lift_exhaust=lift(crank, 126.0, 382.0),
        outline=outline,
        echo_arrival_deg=float(crank[arrival]),
        echo_pressure=float(returning[0, arrival]),
        echo_sign="pressure" if returning[0, arrival] > 0 else "suction",
        sentence="At 3\u202f000 rpm the echo comes back as a push while both valves are open: it holds "
        "burned gas "
        "in the cylinder and sends air back out through the carburettor.",
    )


@pytest.fixture(scope="session")
def field() -> EchoField:
    """Open pipe with a bolt."""
    return made_up_field()


@pytest.fixture(scope="session")
def large_field() -> EchoField:
    """As many places and angles as the model hands over at most."""
    return made_up_field(200, 720)


@pytest.fixture(scope="session")
def muffled_field() -> EchoField:
    """Cone, plate, muffler, tail, flange."""
    return made_up_field(outline=WITH_MUFFLER)
