"""Changes by dotted path: what moves, what stays, what is refused."""

from pathlib import Path
from typing import Any

import pytest
import tomlkit
from tests.unit.bench.sheets import COLLECTOR_TWIN, MUFFLED_TWIN

from pulsewright.bench.changes import apply_changes, changed_text, parse_set, write_setup
from pulsewright.bench.exhaust import Join
from pulsewright.bench.sheet import read_setup, setup_from_text
from pulsewright.errors import InputError, UsageError

COMMENTED = MUFFLED_TWIN.replace('main_jet = "1.85 mm"', 'main_jet = "1.85 mm"   # the one that came with it').replace(
    "route.2 = [", "# the lower pipe\nroute.2 = [   # from the port"
)


def changed(*changes) -> Any:
    # Any: the tests know which piece stands where
    return setup_from_text(changed_text(COMMENTED, changes), "x")


def test_every_form_of_path():
    setup = changed(
        ("carburettor.1.main_jet", "1.70 mm"),
        ("ignition.advance.2.2", 27),
        ("engine.firing.2", "360"),
        ("intake.branch.2.1.length", "95 mm"),
        ("exhaust.route.1.3.angle", "30 deg"),
        ("exhaust.route.1.1.bends.1", 80),
        ("exhaust.route.2.2.angle_by_rpm.1.2", 35),
        ("exhaust.lambda_sensor.1", "280 mm"),
    )
    assert setup.carburettors[0].main_jet == pytest.approx(1.7e-3)
    assert setup.ignition.advance[1] == (6000.0, 27.0)
    assert setup.engine.firing == (0.0, 360.0)
    assert setup.intake.branch[2][0].length == pytest.approx(0.095)
    pipe, _, plate, *_ = setup.exhaust.route[1]
    assert (pipe.bends, plate.angle_deg) == ((80.0, 45.0), 30.0)
    assert setup.exhaust.route[2][1].angle_by_rpm[0] == (2000.0, 35.0)
    assert setup.exhaust.lambda_sensor == {"1": pytest.approx(0.28)}


@pytest.mark.parametrize("path", ["exhaust.after.collector 1.1.length", 'exhaust.after."collector 1".1.length'])
def test_a_collector_is_addressed_by_its_name(path: str):
    setup: Any = setup_from_text(changed_text(COLLECTOR_TWIN, [(path, "450 mm")]), "x")
    assert setup.exhaust.after["collector 1"][0].length == pytest.approx(0.45)


def test_a_whole_route_and_a_new_collector():
    route = [{"piece": "pipe", "length": "700 mm", "bore": "44 mm"}, {"piece": "join", "into": "both"}]
    setup = changed(
        ["exhaust.route.1", route],
        [
            "exhaust.route.2",
            '[{ piece = "pipe", length = "700 mm", bore = "44 mm" }, { piece = "join", into = "both" }]',
        ],
        ["exhaust.after.both", [{"piece": "pipe", "length": "400 mm", "bore": "50 mm"}, {"piece": "end"}]],
    )
    assert setup.exhaust.route[1][-1] == setup.exhaust.route[2][-1] == Join(into="both")
    assert list(setup.exhaust.after) == ["both"]


def test_a_key_and_a_table_that_were_not_there():
    text = changed_text(COLLECTOR_TWIN.replace("[air]", "[air]"), [("intake.plenum", "3 l"), ("fuel.octane", 98)])
    setup = setup_from_text(text, "x")
    assert setup.intake.plenum == pytest.approx(3e-3)
    bare = tomlkit.parse(COLLECTOR_TWIN)
    del bare["air"]
    assert setup_from_text(changed_text(bare, [("air.temperature", "20 degC")]), "x").air is not None


def test_later_changes_build_on_earlier_ones():
    setup = changed(
        ("carburettor.1.main_jet", {"number": 170, "means": "hundredths of a millimetre"}),
        ("carburettor.1.main_jet.number", 165),
    )
    assert setup.carburettors[0].main_jet == pytest.approx(1.65e-3)


def test_comments_and_layout_stay(tmp_path: Path):
    document = apply_changes(COMMENTED, [("carburettor.1.main_jet", "1.70 mm"), ("exhaust.route.2.1.length", "650 mm")])
    write_setup(document, tmp_path / "b.toml")
    text = (tmp_path / "b.toml").read_text(encoding="utf-8")
    assert 'main_jet = "1.70 mm"   # the one that came with it' in text
    assert "# the lower pipe\nroute.2 = [   # from the port" in text
    differing = [pair for pair in zip(COMMENTED.splitlines(), text.splitlines(), strict=True) if pair[0] != pair[1]]
    assert len(differing) == 2


def test_the_source_is_left_alone(tmp_path: Path):
    path = tmp_path / "a.toml"
    path.write_text(COMMENTED, encoding="utf-8")
    document = tomlkit.parse(COMMENTED)
    apply_changes(document, [("engine.bore", "90 mm")])
    apply_changes(path, [("engine.bore", "90 mm")])
    assert tomlkit.dumps(document) == path.read_text(encoding="utf-8") == COMMENTED
    assert read_setup(path, [("engine.bore", "90 mm")]).engine.bore == pytest.approx(0.09)


@pytest.mark.parametrize(
    ("path", "nearest"),
    [
        ("carburetor.1.main_jet", "carburettor.1.main_jet"),
        ("carburettor.1.mainjet", "carburettor.1.main_jet"),
        ("carburettor.0.main_jet", "carburettor.1.main_jet"),
        ("carburettor.2.main_jet", "carburettor.1.main_jet"),
        ("main_jet", None),
        ("exhaust.route.1.3.angel", "exhaust.route.1.3.angle"),
        ("exhaust.route.1.1.angle", "exhaust.route.1.1"),
        ("exhaust.route.1.9.length", "exhaust.route.1.1.length"),
        ("exhaust.route.7", "exhaust.route.1"),
        ("engine.intake_valve.opens.x", "engine.intake_valve.opens"),
        ("", None),
        ("..", None),
    ],
)
def test_an_unknown_path_names_the_nearest(path: str, nearest: str | None):
    with pytest.raises(InputError) as refused:
        apply_changes(COMMENTED, [(path, "1 mm")])
    assert path in refused.value.what
    assert (nearest or "carburettor") in (refused.value.hint or "")


@pytest.mark.parametrize("change", [["engine.bore"], "engine.bore", [1, 2], ["a", "b", "c"], None])
def test_what_is_no_change_is_refused(change):
    with pytest.raises(InputError, match="is not a change"):
        apply_changes(COMMENTED, [change])


@pytest.mark.parametrize(
    ("text", "pair"),
    [
        ("carburettor.1.main_jet=1.70 mm", ("carburettor.1.main_jet", "1.70 mm")),
        ("carburettor.1.main_jet = '1.70 mm'", ("carburettor.1.main_jet", "1.70 mm")),
        ("engine.compression_ratio=9.5", ("engine.compression_ratio", 9.5)),
        ("engine.firing=[0, 360]", ("engine.firing", [0, 360])),
        ("exhaust.route.1.2.angle=45 deg", ("exhaust.route.1.2.angle", "45 deg")),
        ("exhaust.after.collector 1.1.length=450 mm", ("exhaust.after.collector 1.1.length", "450 mm")),
        (
            'carburettor.1.main_jet={ number = 72, means = "thousandths of an inch" }',
            ("carburettor.1.main_jet", {"number": 72, "means": "thousandths of an inch"}),
        ),
    ],
)
def test_set_on_the_command_line(text: str, pair):
    assert parse_set(text) == pair


@pytest.mark.parametrize("text", ["engine.bore", "=3", "engine.bore=", ""])
def test_set_without_path_or_value_is_usage(text: str):
    with pytest.raises(UsageError):
        parse_set(text)


def test_writing_where_one_may_not_is_an_input_error(tmp_path: Path):
    with pytest.raises(InputError, match="cannot write"):
        write_setup(COMMENTED, tmp_path / "no" / "such.toml")


NEEDLE_SHEET = COMMENTED.replace('kind = "fixed venturi"', 'kind = "slide"').replace(
    'throttle_closed_angle = "8 deg"\n', ""
)


def needle_after(*changes, sheet: str = NEEDLE_SHEET) -> Any:
    setup: Any = setup_from_text(changed_text(sheet, changes), "x")
    return setup.carburettors[0].needle, {a.key for a in setup.assumptions}


def test_a_needle_jet_changed_alone_leaves_the_needle():
    """What a shop swaps is the jet; the needle that the sheet leaves out must not grow with it."""
    before, _ = needle_after()
    after, assumed = needle_after(("carburettor.1.needle_jet", "3.20 mm"))
    assert after.jet == pytest.approx(3.2e-3)
    assert after.diameter == pytest.approx(before.diameter, rel=1e-6)
    assert "carburettor.1.needle_diameter" in assumed  # it is no better known than before
    named, _ = needle_after(("carburettor.1.needle_jet", "3.20 mm"), ("carburettor.1.needle_diameter", "3.00 mm"))
    assert named.diameter == pytest.approx(3.0e-3)
    other_first = changed_text(NEEDLE_SHEET, [("carburettor.1.needle_jet", "3.20 mm")])
    twice, _ = needle_after(("carburettor.1.needle_jet", "3.30 mm"), sheet=other_first)
    assert twice.diameter == pytest.approx(before.diameter, rel=1e-6)
    with pytest.raises(InputError, match="in a needle jet"):
        needle_after(("carburettor.1.needle_jet", "2.20 mm"))


def test_a_needle_is_held_in_a_table_in_braces_too():
    """Such a table stands on one line, which a comment would cut off."""
    head, _, rest = NEEDLE_SHEET.partition("[[carburettor]]\n")
    rest = rest.partition("\n[air]")[2]
    short = 'carburettor = [ { kind = "slide", feeds = [1, 2], venturi = "38 mm" } ]\n'
    sheet = short + head + "[air]" + rest
    after, _ = needle_after(("carburettor.1.needle_jet", "3.20 mm"), sheet=sheet)
    assert after.diameter == pytest.approx(needle_after(sheet=sheet)[0].diameter, rel=1e-6)
