"""What is left out is filled in, and said."""

import tomllib

import pytest

from pulsewright.bench.schema import MOST_CYLINDERS
from pulsewright.bench.sheet import setup_from_text
from pulsewright.bench.throttle import throttle_of, with_throttle
from pulsewright.errors import InputError

SHORTEST = """
[engine]
bore = "88 mm"
stroke = "82 mm"
compression_ratio = "9,0"
[engine.intake_valve]
opens = "30 deg BTDC"
closes = "60 deg ABDC"
[engine.exhaust_valve]
opens = "60 deg BBDC"
closes = "30 deg ATDC"
[[carburettor]]
[exhaust]
route.1 = [ { piece = "pipe", length = "800 mm", bore = "42 mm" } ]
"""


def test_the_shortest_sheet_reads_and_says_what_it_assumed():
    setup = setup_from_text(SHORTEST, "short.toml", name="short")
    keys = {each.key for each in setup.assumptions}
    expected = {
        "format", "engine.cylinders", "engine.rod", "engine.cooling", "engine.intake_valve.count",
        "engine.intake_valve.diameter", "engine.intake_valve.lift", "engine.intake_valve.check_lift",
        "engine.exhaust_port.length", "engine.exhaust_port.bore", "ignition.advance", "fuel.kind", "fuel",
        "carburettor.1.kind", "carburettor.1.feeds", "carburettor.1.venturi", "carburettor.1.throttle_bore",
        "carburettor.1.main_jet", "carburettor.1.main_air_bleed", "carburettor.1.main_nozzle",
        "carburettor.1.nozzle_lip", "carburettor.1.body_length", "carburettor.1.venturi_from_front",
        "carburettor.1.throttle",
        "intake.mouth", "intake.branch.1", "exhaust.route.1.1.wall", "exhaust.route.1.1.bends",
        "exhaust.route.1.end", "air",
    }  # fmt: skip
    assert expected <= keys
    assert setup.name == "short"
    assert setup.air is None
    assert setup.exhaust.route[1][-1].piece == "end"
    assert setup.engine.compression_ratio == 9.0


def test_an_intake_can_stand_in_for_the_carburettor_table():
    text = SHORTEST.replace("[[carburettor]]", '[intake]\nmouth = "stack"')
    setup = setup_from_text(text, "short.toml")
    assert len(setup.carburettors) == 1
    assert "carburettor" in {each.key for each in setup.assumptions}


def test_neither_carburettor_nor_intake_is_an_error():
    with pytest.raises(InputError, match="carburettor is missing, and so is intake"):
        setup_from_text(SHORTEST.replace("[[carburettor]]", ""), "short.toml")


def test_a_full_sheet_assumes_only_what_it_cannot_hold():
    from tests.unit.bench.sheets import MUFFLED_TWIN

    assert tomllib.loads(MUFFLED_TWIN)
    keys = {each.key for each in setup_from_text(MUFFLED_TWIN, "full.toml").assumptions}
    assert keys == {"exhaust.route.2.1.bends", "exhaust.route.2.4.wall", "exhaust.route.2.4.bends"}


def of_kind(kind: str, *lines: str):
    """The shortest sheet with a carburettor of a kind and lines in its table."""
    table = "\n".join(("[[carburettor]]", f'kind = "{kind}"', *lines))
    return setup_from_text(SHORTEST.replace("[[carburettor]]", table), "x")


NEEDLE_KEYS = {"needle_jet", "needle_diameter", "needle_taper", "needle_straight", "needle_clip", "needle_clip_pitch"}
PISTON_KEYS = {"piston_mass", "piston_diameter", "piston_vent", "spring_down", "spring_up"}


def test_a_slide_has_a_needle_and_a_cutaway():
    setup = of_kind("slide", "needle_clip = 4", 'needle_clip_pitch = "1 mm"')
    part = setup.carburettors[0]
    said = {each.key.removeprefix("carburettor.1.") for each in setup.assumptions}
    assert part.needle is not None
    assert part.piston is None
    assert part.needle.raised == pytest.approx(1e-3)
    assert part.main_nozzle == part.needle.jet > part.needle.diameter
    assert said >= NEEDLE_KEYS - {"needle_clip", "needle_clip_pitch"} | {"cutaway", "throttle", "idle_outlet"}
    assert not said & (PISTON_KEYS | {"main_nozzle", "throttle_closed_angle"})


def test_constant_velocity_has_a_piston_that_rises_in_the_usual_range():
    """Its default spring: the piston floats from 1 kPa on the diaphragm's area less the slide, to 2 kPa fully up."""
    setup = of_kind("constant velocity", 'venturi = "36 mm"')
    piston = setup.carburettors[0].piston
    assert piston is not None
    area = 0.25 * 3.14159 * (piston.diameter**2 - 0.036**2)
    assert piston.mass * 9.81 + piston.spring_down == pytest.approx(1000.0 * area, abs=0.02)
    assert piston.mass * 9.81 + piston.spring_up == pytest.approx(2000.0 * area, abs=0.02)
    said = {each.key.removeprefix("carburettor.1.") for each in setup.assumptions}
    assert said >= NEEDLE_KEYS | PISTON_KEYS | {"throttle_closed_angle"}
    assert "cutaway" not in said


@pytest.mark.parametrize(
    ("kind", "line", "said"),
    [
        ("fixed venturi", "needle_clip = 3", "belongs to slide and constant velocity"),
        ("slide", 'piston_mass = "80 g"', "belongs to constant velocity"),
        ("slide", 'throttle_closed_angle = "8 deg"', "belongs to fixed venturi and constant velocity"),
        ("constant velocity", 'cutaway = "3 mm"', "belongs to slide"),
        ("slide", 'needle_diameter = "5 mm"', "in a needle jet"),
        ("constant velocity", 'piston_diameter = "20 mm"', "over a venturi"),
        ("constant velocity", 'spring_up = "0.1 N"', "less than"),
        ("slide", 'throttle = "0.2 %"', "allowed"),
        ("slide", 'bowl_vent = "airbox"', "has no plenum"),
    ],
)
def test_parts_that_do_not_go_together_are_refused(kind: str, line: str, said: str):
    with pytest.raises(InputError, match=said):
        of_kind(kind, line)


def test_a_main_nozzle_on_a_slide_is_left_aside_and_said_to_be():
    """Sheets written before slides had needles keep reading."""
    setup = of_kind("slide", 'main_nozzle = "3.5 mm"')
    assert any(each.key == "carburettor.1.main_nozzle" and each.value == "not used" for each in setup.assumptions)


def test_the_throttle_of_a_setup_is_moved_without_a_word_of_its_default():
    setup = with_throttle(of_kind("slide"), 0.4)
    assert throttle_of(setup) == 0.4
    assert "carburettor.1.throttle" not in {each.key for each in setup.assumptions}


def test_carburettors_without_feeds_take_a_cylinder_each():
    text = SHORTEST.replace("[[carburettor]]", "[[carburettor]]\n[[carburettor]]")
    text += 'route.2 = [ { piece = "pipe", length = "800 mm", bore = "42 mm" } ]\n'
    setup = setup_from_text(text, "x")
    assert [part.feeds for part in setup.carburettors] == [(1,), (2,)]
    assert [setup.carburettor_of(cylinder) for cylinder in (1, 2)] == [0, 1]
    assert setup.engine.firing == (0.0, 360.0)


def test_filter_loss_from_a_pressure_drop():
    """Worked by hand: 0.05 m³/s in 44 mm is 32.88 m/s; half of 1.2 kg/m³ times that squared is 648.8 Pa."""
    more = '[intake]\nmouth = "filter"\npressure_drop = "973 Pa"\nat_flow = "3000 l/min"\n'
    text = SHORTEST.replace("[[carburettor]]", '[[carburettor]]\nthrottle_bore = "44 mm"\n' + more)
    assert setup_from_text(text, "x").intake.mouth.loss == pytest.approx(1.500, abs=0.001)


def test_a_lift_table_alone_gives_lift_and_timing():
    table = 'lift_table = [[320, 0], [340, "1 mm"], [480, "10 mm"], [600, "1 mm"], [620, 0]]\ncheck_lift = "1 mm"'
    text = SHORTEST.replace('opens = "30 deg BTDC"\ncloses = "60 deg ABDC"', table)
    valve = setup_from_text(text, "x").engine.intake_valve
    assert (valve.lift, valve.opens_deg, valve.closes_deg) == (0.010, 340.0, 600.0)


@pytest.mark.parametrize("cylinders", range(1, MOST_CYLINDERS + 1))
def test_firing_left_out_is_even_for_every_number_of_cylinders(cylinders: int):
    route = next(line for line in SHORTEST.splitlines() if line.startswith("route.1"))
    routes = "\n".join(route.replace("route.1", f"route.{n}") for n in range(1, cylinders + 1))
    engine = setup_from_text(SHORTEST.replace(route, routes), "x").engine
    assert engine.cylinders == cylinders
    assert engine.firing[0] == 0.0
    assert sorted(engine.firing) == pytest.approx([720.0 * n / cylinders for n in range(cylinders)])
