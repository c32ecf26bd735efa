"""The drawing of the pipe holds the measures of the sheet, in millimetres."""

import math

import pytest

from pulsewright.figures.pipe_outline import labels, outline_shapes, route_length, widest
from pulsewright.simulate.echo_field import OutlinePart


def part(kind: str, start: float, end: float, bore_start: float, bore_end: float, label: str = "") -> OutlinePart:
    return OutlinePart(kind=kind, start=start, end=end, bore_start=bore_start, bore_end=bore_end, label=label)


def extent(points):
    xs, ys = zip(*points, strict=True)
    return min(xs), max(xs), min(ys), max(ys)


def of(role, shapes):
    return [shape for shape in shapes if shape.role == role]


def test_a_cone_runs_from_bore_to_bore():
    shapes = outline_shapes([part("pipe", 0.07, 0.50, 0.038, 0.044)])
    upper, lower = of("wall", shapes)
    assert upper.points == ((70.0, 19.0), (500.0, 22.0))
    assert lower.points == ((70.0, -19.0), (500.0, -22.0))


def test_a_bolt_is_a_circle_of_its_own_diameter_at_its_place():
    (bolt,) = of("solid", outline_shapes([part("cross-bolt", 0.92, 0.92, 0.044, 0.008)]))
    assert all(math.hypot(x - 920.0, y) == pytest.approx(4.0) for x, y in bolt.points)


def test_a_plate_blocks_its_width_on_the_centre_line():
    (plate,) = of("solid", outline_shapes([part("plate", 0.30, 0.30, 0.044, 0.016)]))
    assert extent(plate.points)[2:] == (-8.0, 8.0)
    assert sum(extent(plate.points)[:2]) / 2 == pytest.approx(300.0)


def test_a_disc_leaves_the_middle_open():
    rings = of("solid", outline_shapes([part("disc", 0.9, 0.9, 0.044, 0.010)]))
    opening = 2 * min(abs(y) for ring in rings for _, y in ring.points)
    assert opening == pytest.approx(44.0 - 10.0)
    assert max(y for ring in rings for _, y in ring.points) == pytest.approx(22.0)


def test_a_muffler_has_its_body_and_a_core_of_gas():
    shapes = outline_shapes([part("muffler", 0.35, 0.85, 0.110, 0.044)])
    assert extent([p for wall in of("wall", shapes) for p in wall.points]) == (350.0, 850.0, -55.0, 55.0)
    assert extent(of("gas", shapes)[0].points) == (350.0, 850.0, -22.0, 22.0)


def test_where_bores_differ_a_step_closes_the_gap():
    shapes = outline_shapes([part("port", 0.0, 0.07, 0.040, 0.040), part("pipe", 0.07, 0.97, 0.044, 0.044)])
    assert ((70.0, 20.0), (70.0, 22.0)) in [shape.points for shape in of("wall", shapes)]


def test_an_insert_is_drawn_inside_its_pipe_and_does_not_widen_the_route():
    parts = [part("pipe", 0.0, 0.9, 0.044, 0.044), part("insert", 0.7, 0.9, 0.044, 0.025)]
    rings = of("packing", outline_shapes(parts))
    assert min(abs(y) for ring in rings for _, y in ring.points) == pytest.approx(12.5)
    assert widest(parts) == 44.0
    assert route_length(parts) == 900.0


def test_a_crossing_pipe_is_as_wide_as_its_bore():
    left, right = of("wall", outline_shapes([part("crossover", 0.4, 0.4, 0.044, 0.030)]))
    assert right.points[0][0] - left.points[0][0] == pytest.approx(30.0)


def test_an_unknown_kind_with_a_length_is_drawn_as_a_tube():
    assert of("gas", outline_shapes([part("gadget", 0.1, 0.2, 0.04, 0.04)]))


def test_parts_are_named_in_their_middle_and_an_end_says_that_it_is_one():
    named = labels([part("pipe", 0.1, 0.9, 0.04, 0.04, "pipe"), part("end", 0.9, 0.9, 0.04, 0.04, "open")])
    assert named == [(500.0, "pipe"), (900.0, "open end")]
