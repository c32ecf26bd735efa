"""What is left out is filled in, and said."""

import tomllib

import pytest

from pulsewright.bench.sheet import setup_from_text
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


@pytest.mark.parametrize("kind", ["slide", "constant velocity"])
def test_other_carburettors_are_kept_and_said_to_be_computed_as_fixed(kind: str):
    setup = setup_from_text(SHORTEST.replace("[[carburettor]]", f'[[carburettor]]\nkind = "{kind}"'), "x")
    assert setup.carburettors[0].kind == kind
    assert any(each.key == "carburettor.1.kind" and "fixed venturi" in each.value for each in setup.assumptions)


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
