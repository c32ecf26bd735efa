"""Estimates: what they refuse, and that what they print can stand on a sheet. Values: `verify --only estimates`."""

import math
import tomllib
from typing import Any

import pytest

from pulsewright.bench.schema import SHEET
from pulsewright.bench.sheet import setup_from_text
from pulsewright.errors import InputError, UsageError
from pulsewright.network.engine_parts import valve_table
from pulsewright.new.cam_from_lift_table import cam_from_lift_table, read_lift_table
from pulsewright.new.estimate import Estimate, Reading, heading, with_band
from pulsewright.new.jet_from_flow import jet_from_flow
from pulsewright.new.port_from_fluid import port_from_fluid
from pulsewright.new.valve_from_flow_bench import Point, usual_coefficient, valve_from_flow_bench
from pulsewright.outside.estimate_checks import checks, squared_sine, squared_sine_timing

SHEET_TEXT = """
[engine]
bore = "94 mm"
stroke = "101 mm"
compression_ratio = 9
[engine.intake_valve]
opens = "16 deg BTDC"
closes = "46 deg ABDC"
[engine.exhaust_valve]
opens = "52 deg BBDC"
closes = "16 deg ATDC"
[[carburettor]]
venturi = "37 mm"
[exhaust]
route.1 = [ { piece = "pipe", length = "900 mm", bore = "43 mm" } ]
"""
ESTIMATES = [
    jet_from_flow(4e-6, head=0.5),
    jet_from_flow(1e-6, pressure=5e3, fluid="E85", jet="intermediate_jet"),
    port_from_fluid(95e-6, bore=0.040),
    port_from_fluid(110e-6, length=0.08, port="intake"),
    cam_from_lift_table(squared_sine(10.0), valve="intake", check_lift=1e-3),
    valve_from_flow_bench([Point(0.009, 0.07), Point(0.005, 0.045)], drop=7e3, diameter=0.0432),
]


def test_all_agree_with_values_from_outside():
    found = list(checks())
    assert len(found) >= 6
    assert not [c.what for c in found if not c.passed]


@pytest.mark.parametrize("estimate", ESTIMATES, ids=lambda e: e.kind)
def test_what_is_printed_is_read_back_from_a_sheet(estimate: Estimate):
    """The text is TOML, its keys belong to the table it names, and the sheet takes its values."""
    keys = tomllib.loads(estimate.toml)
    assert heading(estimate.table) in estimate.toml
    at: dict = {}
    *path, last = [name for name in estimate.table.split(".") if not name.isdecimal()]
    whole: dict = tomllib.loads(SHEET_TEXT)
    at = whole
    for name in path:
        at = at.setdefault(name, {})
    at[last] = [{**at[last][0], **keys}] if last == "carburettor" else {**at.get(last, {}), **keys}
    import tomlkit

    setup = setup_from_text(tomlkit.dumps(whole), "the sheet", lines=False)
    assert not [a for a in setup.assumptions if a.key in {f"{estimate.table}.{key}" for key in keys}]


def test_the_band_holds_the_truth_where_the_readings_were_off():
    """A jet read 2 % and 3 % off with a coefficient at the end of its band still lies in the band."""
    true = 1.5e-3
    area = math.pi / 4.0 * true**2
    for cd in (0.71, 0.84):
        flow = 0.99 * cd * area * math.sqrt(2.0 * 9.80665 * 0.5)
        (line,) = jet_from_flow(flow, head=0.49).lines
        assert line.reading is not None
        assert line.reading.low < true < line.reading.high


@pytest.mark.parametrize("step", [1.0, 4.0, 10.0, 20.0, 28.0])
def test_the_band_of_a_timing_holds_the_closed_form(step: float):
    estimate = cam_from_lift_table(squared_sine(step), valve="intake", check_lift=1.27e-3)
    for line, truth in zip(estimate.lines[:2], squared_sine_timing(1.27e-3), strict=True):
        assert line.reading is not None
        assert line.reading.low < truth < line.reading.high


def test_ends_that_pull_the_same_way_count_once_each():
    band = with_band(lambda a: a, a=Reading(1.0, 1.0, 1.2))
    assert (band.low, band.high) == (1.0, pytest.approx(1.2))


def test_a_usual_valve_comes_out_as_one_and_the_model_takes_the_factor():
    from pulsewright.physics.restriction_flow import restriction_mass_flow

    flux = restriction_mass_flow(1.0, 101325.0, 293.15, 94325.0, 1.4, 287.05)
    throat = math.pi / 4.0 * (0.9 * 0.0432) ** 2
    points = [
        Point(lift, flux * usual_coefficient(lift, 0.0432, throat, "exhaust") * math.pi * 0.0432 * lift)
        for lift in (0.003, 0.006, 0.009)
    ]
    (line,) = valve_from_flow_bench(points, drop=7e3, diameter=0.0432, valve="exhaust").lines
    assert line.reading is not None
    assert line.reading.value == pytest.approx(1.0, rel=1e-12)
    plain = setup_from_text(SHEET_TEXT, "x").engine
    text = SHEET_TEXT.replace("[engine.exhaust_valve]", "[engine.exhaust_valve]\nflow_factor = 1.1")
    assert valve_table(setup_from_text(text, "x").engine)[1] == pytest.approx(1.1 * valve_table(plain)[1])
    assert valve_table(setup_from_text(text, "x").engine)[0] == pytest.approx(valve_table(plain)[0])


@pytest.mark.parametrize(
    ("make", "error", "words"),
    [
        (lambda: jet_from_flow(4e-6), UsageError, "drives it"),
        (lambda: jet_from_flow(4e-6, head=0.5, pressure=5e3), UsageError, "drives it"),
        (lambda: port_from_fluid(95e-6), UsageError, "any length"),
        (lambda: valve_from_flow_bench([], drop=7e3, diameter=0.04), UsageError, "no reading"),
        (lambda: valve_from_flow_bench([Point(0.009, 0.07)], drop=2e5, diameter=0.04), InputError, "allowed: above 0"),
        (lambda: valve_from_flow_bench([Point(0.009, 0.7)], drop=7e3, diameter=0.04), InputError, "a sheet takes"),
        (
            lambda: cam_from_lift_table(squared_sine(5.0), valve="exhaust", check_lift=1e-3),
            InputError,
            "no such timing",
        ),
        (lambda: cam_from_lift_table(squared_sine(5.0), valve="intake", check_lift=0.02), InputError, "check lift"),
    ],
)
def test_what_cannot_be_is_refused(make, error: type[Exception], words: str):
    with pytest.raises(error, match=words):
        make()


def test_a_slow_jet_is_cautioned():
    assert any("Re" in caution for caution in jet_from_flow(5e-8, head=0.02).cautions)
    assert not any("Re" in caution for caution in jet_from_flow(4e-6, head=0.5, cd=0.8).cautions)


@pytest.mark.parametrize(
    ("text", "more"),
    [
        ("angle; lift mm\n330; 0,1\n340; 2,4\n350; 2,5\n360; 0\n", {}),
        ("# from the gauge\n330,0.1\n340,2.4\n350,2.5\n360,0\n", {"lift_unit": "mm"}),
        ("-30\t0.1 mm\n-20\t2.4 mm\n-10\t2.5 mm\n0\t0\n", {"zero": "overlap"}),
        ("165 0.1\n170 2.4\n175 2.5\n180 0\n", {"lift_unit": "mm", "cam_degrees": True}),
        ("330 0.00393701\n340 0.0944882\n350 0.0984252\n360 0\n", {"lift_unit": "in"}),
    ],
)
def test_lift_tables_as_people_write_them(text: str, more: dict):
    rows = read_lift_table(text, where="t", **{"lift_unit": None, "zero": "firing", "cam_degrees": False, **more})
    assert [row[0] for row in rows] == [330.0, 340.0, 350.0, 360.0]
    assert [row[1] for row in rows] == pytest.approx([0.1e-3, 2.4e-3, 2.5e-3, 0.0], rel=1e-6)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("330 2.4\n340 2\n", "no unit"),
        ("330 2.4 mm 1\n", "not an angle and a lift"),
        ("330; 1 mm\n320; 2 mm\n340; 2 mm\n350; 0\n", "rising"),
        ("", "0 rows"),
    ],
)
def test_what_is_no_lift_table_is_refused(text: str, words: str):
    with pytest.raises(InputError, match=words):
        read_lift_table(text, where="t", lift_unit=None, zero="firing", cam_degrees=False)


def test_the_band_of_the_sheet_is_that_of_the_estimate():
    from pulsewright.new.valve_from_flow_bench import LEAST, MOST

    key: Any = SHEET
    for name in ("engine", "intake_valve", "flow_factor"):
        key = key.keys[name]
    assert (key.low, key.high) == (LEAST, MOST)
