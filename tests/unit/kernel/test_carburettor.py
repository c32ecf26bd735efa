"""Circuits and pistons of the carburettor: compiled against plain Python, and against closed formulas."""

import math
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pulsewright.kernel.carburettor import GRAVITY, circuit_step, move_pistons
from pulsewright.kernel.layout import CARBURETTOR, CIRCUIT, JOINT

FUEL, AIR = 745.0, 1.18  # [kg/m³]
CD = 0.78
unit = st.floats(0.0, 1.0)


def area(bore: float) -> float:
    return 0.25 * math.pi * bore * bore


def circuit(**more: float):
    """A circuit of ordinary size as a row of the kernel's table."""
    row = np.zeros(1, dtype=CIRCUIT)
    usual = {
        "jet": CD * area(1.2e-3), "bleed": 0.75 * area(0.8e-3), "outlet": 0.75 * area(2e-3), "lip": 6e-3,
        "well_area": area(8e-3), "column": 1.4e4, "spill_time": 2e-3, "suction_share": 0.75, "level": 6e-3,
    }  # fmt: skip
    for name, value in (usual | more).items():
        row[name] = value
    return row[0]


def plain_of(row) -> SimpleNamespace:
    """The same circuit as plain numbers."""
    numbers = {name: float(row[name]) for name in CIRCUIT.names or () if not name.startswith("row")}
    columns = [row[name][: row["rows"]].tolist() for name in ("row_top", "row_bore", "row_area")]
    return SimpleNamespace(**numbers, holes=list(zip(*columns, strict=True)))


def plain_well(s_o, fuel, bleed, outlet):
    """Suction in the well by halving the bracket of the equation at the head of the kernel's file."""

    def outlet_loss(s):
        air = bleed * math.sqrt(2.0 * AIR * s)
        return s + (fuel + air) * (fuel / FUEL + air / AIR) / (2.0 * outlet * outlet)

    if s_o <= 0.0:
        s = s_o / (1.0 + (bleed / outlet) ** 2)
        return s, -bleed * math.sqrt(-2.0 * AIR * s)
    if outlet_loss(0.0) >= s_o:
        return 0.0, 0.0
    low, high = 0.0, s_o
    for _ in range(200):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if outlet_loss(middle) < s_o else (low, middle)
    return high, bleed * math.sqrt(2.0 * AIR * high)


def plain_tube(c):
    """Bleed and uncovered holes in series."""
    free = [min(max((top - c.tube_level) / bore, 0.0), 1.0) for top, bore, _ in c.holes]
    holes = sum(size * share for (_, _, size), share in zip(c.holes, free, strict=True))
    return 1.0 / math.sqrt(1.0 / c.bleed**2 + 1.0 / holes**2) if holes else 0.0


def plain_drain(c, s, bleed, dt):
    """What the tube gives to the well while it follows the head that its holes take."""
    wished = c.level - s * (1.0 - (bleed / c.bleed) ** 2) / (FUEL * GRAVITY)
    wished = min(max(wished, min(top - bore for top, bore, _ in c.holes)), c.level)
    before = c.tube_level
    c.tube_level = before + (wished - before) * (dt / c.tube_time) / (1.0 + dt / c.tube_time)
    return FUEL * c.tube_area * (before - c.tube_level) / dt


def plain_step(c, suction, behind, dt):
    """One circuit a step on, line by line as the equations stand."""
    bleed = plain_tube(c) if c.holes else c.bleed
    s, air = plain_well(suction * c.suction_share + behind * c.behind_share, c.spill, bleed, c.outlet)
    drained = plain_drain(c, s, bleed, dt) if c.holes else 0.0
    push = s - FUEL * GRAVITY * c.level
    c.flow = (c.flow + dt / c.column * push) / (1.0 + dt / c.column * abs(c.flow) / (2.0 * FUEL * c.jet**2))
    c.spill = FUEL * c.well_area * max(c.level - c.lip, 0.0) / c.spill_time
    c.level += dt * (c.flow + drained - c.spill) / (FUEL * c.well_area)
    return c.spill, max(air, 0.0)


@settings(max_examples=30, deadline=None)
@given(a=unit, b=unit, share=unit, bleed=unit)
def test_a_circuit_is_its_plain_twin(a: float, b: float, share: float, bleed: float):
    compiled = circuit(behind_share=share, bleed=0.75 * area(1e-4 + 2e-3 * bleed))
    plain = plain_of(compiled)
    dt = 1e-5
    for n in range(400):
        throat = 4000.0 * a * (1.0 + 1.5 * math.sin(0.05 * n))
        behind = 30e3 * b * (1.0 + 1.2 * math.cos(0.03 * n))
        got = circuit_step(compiled, throat, behind, FUEL, AIR, dt)
        assert got == pytest.approx(plain_step(plain, throat, behind, dt), rel=1e-6, abs=1e-13)
    assert compiled["level"] == pytest.approx(plain.level, rel=1e-8)


def test_jet_and_outlet_one_behind_the_other():
    """Bernoulli through two openings in series, without bleed: closed form, any text on hydraulics."""
    row = circuit(bleed=0.0, suction_share=1.0)
    suction = 3000.0
    for _ in range(20_000):
        fuel, _air = circuit_step(row, suction, 0.0, FUEL, AIR, 2e-5)
    left = suction - FUEL * GRAVITY * float(row["level"])
    both = 1.0 / math.sqrt(1.0 / row["jet"] ** 2 + 1.0 / row["outlet"] ** 2)
    assert fuel == pytest.approx(both * math.sqrt(2.0 * FUEL * left), rel=1e-6)


def test_an_outlet_behind_the_throttle_feels_what_is_there():
    """The same suction through either share gives the same fuel."""
    front, behind = circuit(suction_share=0.8), circuit(suction_share=0.0, behind_share=0.8)
    for _ in range(500):
        one = circuit_step(front, 2500.0, 9999.0, FUEL, AIR, 1e-5)
        other = circuit_step(behind, 9999.0, 2500.0, FUEL, AIR, 1e-5)
    assert one == pytest.approx(other, rel=1e-12)
    assert one[0] > 0.0


MASS, DIAPHRAGM, BORE, SPRING, WEIGHT = 0.08, 2.0e-3, 0.036, 60.0, 2.0


def piston(**more: float) -> np.ndarray:
    """A carburettor whose piston floats, as the kernel's table."""
    row = np.zeros(1, dtype=CARBURETTOR)
    usual = {
        "moves": 1, "gate": 0, "gate_area": area(0.038), "lift": 0.018, "mass": MASS, "diaphragm": DIAPHRAGM,
        "weight": WEIGHT, "spring_rate": SPRING, "bore": BORE, "throat_cd": 0.95, "needle_jet": 2.9e-3,
        "needle": 2.8e-3, "needle_slope": 0.04, "needle_straight": 6e-3, "needle_cd": 0.75,
    }  # fmt: skip
    for name, value in (usual | more).items():
        row[name] = value
    return row


def marched(row: np.ndarray, suction: float, seconds: float, dt: float = 1e-5) -> list[float]:
    """Lift [m] after every step under a steady suction."""
    joints = np.zeros(1, dtype=JOINT)
    row["suction"] = suction
    lifts = []
    for _ in range(round(seconds / dt)):
        move_pistons(row, joints, dt)
        lifts.append(float(row["lift"][0]))
    assert joints["area_ab"][0] == joints["area_ba"][0]
    return lifts


def test_a_piston_comes_to_rest_where_its_forces_balance():
    """Suction on the diaphragm against weight and spring: 1400 Pa on 20 cm² less 2 N, over 60 N/m, is 13.3 mm."""
    row = piston(damping=400.0)
    assert marched(row, 1400.0, 3.0)[-1] == pytest.approx(0.8 / 60.0, rel=2e-3)
    assert marched(piston(damping=400.0), 20e3, 0.5)[-1] == BORE
    assert marched(piston(damping=400.0), 0.0, 0.5)[-1] < 0.11 * BORE


def test_an_undamped_piston_swings_as_a_mass_on_a_spring():
    """Harmonic oscillator, any text on mechanics: period 2 pi sqrt(m / k) = 0.2294 s."""
    lifts = np.array(marched(piston(lift=0.0150), 1400.0, 1.0))
    around = lifts - 0.8 / 60.0
    up = np.flatnonzero((around[:-1] < 0.0) & (around[1:] >= 0.0)) * 1e-5
    assert np.diff(up) == pytest.approx(0.2294, rel=1e-3)


def test_a_falling_piston_is_held_by_the_air_in_its_chamber():
    """Terminal speed sqrt(F / D): 3.0 N over 400 N s²/m² are 86.6 mm/s (spring left out)."""
    row = piston(damping=400.0, spring_rate=0.0, weight=3.0, lift=0.036)
    marched(row, 0.0, 0.1)
    assert row["lift_speed"][0] == pytest.approx(-0.0866, rel=1e-3)


@settings(max_examples=20, deadline=None)
@given(a=unit, b=unit, damping=unit)
def test_a_piston_is_its_plain_twin(a: float, b: float, damping: float):
    row = piston(damping=800.0 * damping, lift=0.004 + 0.03 * a, plate_loss=10.0 * b)
    joints = np.zeros(1, dtype=JOINT)
    lift, speed, dt = float(row["lift"][0]), 0.0, 1e-5
    for n in range(2000):
        suction = 2500.0 * b * (1.0 + math.sin(0.004 * n))
        row["suction"] = suction
        move_pistons(row, joints, dt)
        push = DIAPHRAGM * suction - WEIGHT - SPRING * lift
        speed = (speed + dt / MASS * push) / (1.0 + dt / MASS * 800.0 * damping * abs(speed))
        wished = lift + dt * speed
        lift = min(max(wished, 0.10 * BORE), BORE)
        speed = speed if lift == wished else 0.0
    assert row["lift"][0] == pytest.approx(lift, rel=1e-10)
    theta = math.acos(1.0 - 2.0 * lift / BORE)
    open_area = 0.25 * BORE**2 * (theta - 0.5 * math.sin(2.0 * theta))
    needle = 2.8e-3 - 0.04 * max(lift - 6e-3, 0.0)
    s = open_area / area(BORE)
    loss = (1.0 / ((0.62 + 0.38 * s**3) * s) - 1.0) ** 2
    assert row["throat"][0] == pytest.approx(0.95 * open_area, rel=1e-9)
    assert row["circuit"]["outlet"][0, 0] == pytest.approx(0.75 * (area(2.9e-3) - area(needle)), rel=1e-9)
    assert joints["area_ab"][0] == pytest.approx(area(0.038) / math.sqrt(1.0 + 10.0 * b + loss), rel=1e-9)
