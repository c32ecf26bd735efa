"""What every tuner knows of valves, steps and cones in the exhaust, and of stacks, filters and boxes in the intake.

Common practice, no published source, unless a test says otherwise; the generic twin on a premixed charge, so that the
flow alone speaks. Torque is of the gas less friction, at one speed by another.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from tests.trade.generic_twin import OPEN, pipe, route, twin

from pulsewright.bench.sheet import setup_from_text
from pulsewright.network.options import NON_REFLECTING, Options
from pulsewright.simulate.outcome import CONVERGED
from pulsewright.simulate.speed_point import SpeedPoint
from pulsewright.simulate.sweep import sweep

SPEEDS = (2000.0, 2500.0, 3000.0, 3250.0, 3500.0, 4000.0, 4500.0, 5250.0, 6000.0)
HOLE, TOP = slice(2, 5), slice(6, 9)  # of the open pipes: its speeds, and those of the upper end
ECHO = Options(grid=1.5, mixture=0.87)
QUIET = Options(grid=1.5, mixture=0.87, exhaust_ends=NON_REFLECTING)  # the intake alone speaks
VALVE = '{ piece = "valve", bore = "42 mm", angle_by_rpm = [[2500, 45], [4500, 0]] }'
STUCK = '{ piece = "valve", bore = "42 mm", angle = "45 deg" }'


def cone(length: float, into: float, out: float) -> str:
    """A cone as a piece of a route. [mm]"""
    return f'{{ piece = "pipe", length = "{length} mm", bore_in = "{into} mm", bore_out = "{out} mm" }}'


EXHAUSTS = {
    "open": route(pipe(), OPEN),
    "valve": route(pipe(0.7), VALVE, pipe(0.2), OPEN),
    "stuck valve": route(pipe(0.7), STUCK, pipe(0.2), OPEN),
    "step": route(pipe(0.9, 46.0), OPEN),  # the port has 41 mm
    "wide step": route(pipe(0.9, 50.0), OPEN),
    "megaphone": route(pipe(0.5), cone(400, 42, 80), OPEN),
    "reverse cone": route(pipe(0.5), cone(300, 42, 70.5), cone(100, 70.5, 45), OPEN),
}


def torque(text: str, *, echo: bool = True) -> np.ndarray:
    return np.array([p.torque for p in points(text, echo=echo)])


@cache
def points(text: str, *, echo: bool = True) -> list[SpeedPoint]:
    return sweep(setup_from_text(text, "generic twin"), SPEEDS, ECHO if echo else QUIET)


def over_open(name: str) -> np.ndarray:
    """Torque over that of open pipes, less 1, by speed."""
    return torque(twin(EXHAUSTS[name])) / torque(twin(EXHAUSTS["open"])) - 1.0


def intake(*changes: tuple[str, str]) -> str:
    text = twin()
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return text


# --- exhaust ----------------------------------------------------------------------------------


def test_an_exhaust_valve_fills_the_hole_and_costs_nothing_on_top():
    """Closed by half where the echo hurts, open where it helps."""
    gained = over_open("valve")
    assert gained[HOLE].max() > 0.04
    assert np.abs(gained[TOP]).max() < 0.01


def test_a_valve_that_sticks_costs_the_top():
    assert over_open("stuck valve")[TOP].max() < -0.05


def test_an_exhaust_valve_behind_a_collector_follows_the_speed_too():
    """One sweep over all speeds against every speed by itself, to the tolerance of a speed."""
    into = f'[ {pipe(0.5)}, {{ piece = "join", into = "collector" }} ]'
    text = twin(
        f"[exhaust]\nroute.1 = {into}\nroute.2 = {into}\nafter.collector = [ {pipe(0.3, 42.0)}, {VALVE}, {OPEN} ]\n"
    )
    setup = setup_from_text(text, "twin")
    together = [p.torque for p in sweep(setup, [2500.0, 4500.0], ECHO, threads=1)]
    alone = [sweep(setup, [rpm], ECHO, threads=1)[0].torque for rpm in (2500.0, 4500.0)]
    assert together == pytest.approx(alone, rel=3e-3)


def test_a_step_behind_the_port_weakens_what_comes_back():
    """A pipe wider than its port: the more so, the softer the hole, with less burned gas left in it.

    What a step throws back is held against the closed form in `verify --only sound`.
    """
    residual = [np.mean([p.residual for p in points(twin(EXHAUSTS[n]))[HOLE]]) for n in ("open", "step", "wide step")]
    assert residual[0] > 1.02 * residual[1] > 1.02 * residual[2]
    assert 0.0 < over_open("step")[2] < over_open("wide step")[2]


def test_a_reverse_cone_tempers_a_megaphone():
    """Less swing of the curve between its best and its worst speed, against ends that send nothing back."""

    def swing(name: str) -> float:
        return float(np.ptp(torque(twin(EXHAUSTS[name])) / torque(twin(EXHAUSTS["open"]), echo=False)))

    assert swing("reverse cone") < 0.9 * swing("megaphone")


def test_a_megaphone_gives_more_where_it_suits_and_takes_elsewhere():
    gained = over_open("megaphone")
    assert gained.max() > 0.08
    assert gained.min() < -0.08


# --- intake -----------------------------------------------------------------------------------


def test_a_longer_stack_helps_low_and_costs_the_top():
    """A quarter of a wave: what comes back later helps at a lower speed."""
    mouth = 'length = "40 mm", bore = "48 mm"'
    curves = [torque(intake((mouth, mouth.replace("40 mm", f"{mm} mm", 1))), echo=False) for mm in (40, 160, 300)]
    best = [SPEEDS[int(np.argmax(c))] for c in curves]
    assert curves[0][0] < curves[2][0]
    assert np.all(curves[0][-2:] > curves[1][-2:])
    assert np.all(curves[1][-2:] > curves[2][-2:])
    assert best[2] <= best[0]


def test_a_rounded_mouth_breathes_no_worse_than_a_plain_one():
    """Borda's sharp entry loses about a head, a bell next to none (Idelchik); what is left at an open body is less."""
    gained = torque(intake(('mouth = "open"', 'mouth = "stack"')), echo=False) / torque(twin(), echo=False) - 1.0
    assert np.all(gained[TOP] > 0.002)
    assert np.all(gained < 0.03)


def test_a_clogged_filter_costs_the_more_the_more_air_flows():
    clean, clogged = (
        torque(intake(('mouth = "open"', f'mouth = "filter"\nloss = {loss}')), echo=False) for loss in (0.5, 8.0)
    )
    lost = 1.0 - clogged / clean
    assert lost[0] < 0.03
    assert np.all(np.diff(lost[2:8]) > 0.0)
    assert lost[-1] > 0.12


def test_a_small_airbox_costs_the_top_and_a_large_one_is_the_open_air():
    """1.5, 4 and 12 litres for 1.39 of engine; the tone of a box is held against Helmholtz in `verify --only cones`."""
    top = [
        torque(intake(('mouth = "open"', f'mouth = "open"\nplenum = "{box} l"')), echo=False)[-1]
        for box in (1.5, 4, 12)
    ]
    open_air = torque(twin(), echo=False)[-1]
    assert top[0] < 0.99 * top[1] < 0.99 * top[2]
    assert abs(top[2] / open_air - 1.0) < 0.02
    assert top[0] < 0.95 * open_air


def test_an_engine_behind_an_airbox_arrives_from_cold():
    """Its box is full of air to start with: full of mixture, it drowned the engine for some twenty cycles."""
    setup = setup_from_text(intake(('mouth = "open"', 'mouth = "filter"\nplenum = "8 l"')), "twin")
    for rpm in (3500.0, 5250.0):
        found = sweep(setup, [rpm], Options(grid=1.5), threads=1)[0]
        assert found.outcome == CONVERGED, rpm
        assert found.cycles < 22
