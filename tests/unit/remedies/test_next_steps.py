"""What is proposed, and what is refused."""

import math

import pytest

from pulsewright.bench.exhaust import Pipe, Plate
from pulsewright.bench.sheet import setup_from_text
from pulsewright.cause.safety import LeanPoint
from pulsewright.physics.obstacle_losses import plate_blocked_fraction
from pulsewright.remedies.next_steps import _leaner, with_longer_pipe, with_plate

SHEET = """
format = "pulsewright setup 1"
[engine]
cylinders = 1
bore = "80 mm"
stroke = "80 mm"
compression_ratio = 9
firing = [0]
[engine.intake_valve]
opens = "25 deg BTDC"
closes = "55 deg ABDC"
[engine.exhaust_valve]
opens = "55 deg BBDC"
closes = "25 deg ATDC"
[[carburettor]]
kind = "fixed venturi"
feeds = [1]
venturi = "32 mm"
[exhaust]
route.1 = [ { piece = "pipe", length = "800 mm", bore = "40 mm" }, { piece = "end", kind = "open" } ]
"""
MUFFLED = SHEET.replace(
    '{ piece = "end", kind = "open" }',
    '{ piece = "muffler", body_length = "300 mm", body_bore = "90 mm", core_bore = "36 mm", core = "baffled" }, '
    '{ piece = "end", kind = "open" }',
)


def lean(value: float, trusted: bool = True) -> LeanPoint:
    return LeanPoint(value=value, rpm=5000.0, setup="A", gate=0.92, trusted=trusted)


def test_the_plate_blocks_what_it_says():
    plated = with_plate(setup_from_text(SHEET, "test"), 0.25)
    assert plated is not None
    plate = plated.exhaust.route[1][-2]
    assert isinstance(plate, Plate)
    assert plate_blocked_fraction(plate.width / 0.040, plate.angle_deg) == pytest.approx(0.25, rel=0.02)
    assert plate.width == pytest.approx(0.25 * math.pi / 4.0 * 0.040)


def test_a_longer_pipe_is_longer_by_that_much_and_nothing_else_moves():
    setup = setup_from_text(SHEET, "test")
    longer = with_longer_pipe(setup, 0.15)
    assert longer is not None
    pipe = longer.exhaust.route[1][0]
    assert isinstance(pipe, Pipe)
    assert pipe.length == pytest.approx(0.95)
    assert longer.engine == setup.engine
    assert longer.carburettors == setup.carburettors


def test_nothing_is_pushed_into_a_muffler():
    assert with_plate(setup_from_text(MUFFLED, "test")) is None
    assert with_longer_pipe(setup_from_text(MUFFLED, "test")) is None


@pytest.mark.parametrize(("value", "leaner"), [(0.70, True), (0.86, True), (0.88, False), (0.95, False)])
def test_no_leaner_jet_where_two_steps_could_pass_the_gate(value: float, leaner: bool):
    assert ("step leaner" in _leaner(lean(value)).do) is leaner


@pytest.mark.parametrize("point", [None, lean(0.75, trusted=False)])
def test_an_unknown_mixture_never_justifies_leaning(point: LeanPoint | None):
    assert "true mixture first" in _leaner(point).do
