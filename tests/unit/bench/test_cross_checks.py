"""Values that are fine alone and cannot be together."""

import pytest
from tests.unit.bench.sheets import COLLECTOR_TWIN, MUFFLED_TWIN

from pulsewright.bench.changes import changed_text
from pulsewright.bench.sheet import setup_from_text
from pulsewright.errors import InputError

PIPE = {"piece": "pipe", "length": "500 mm", "bore": "44 mm"}
END = {"piece": "end", "kind": "open"}
JOIN = {"piece": "join", "into": "collector 1"}


@pytest.mark.parametrize(
    ("path", "value", "words", "where"),
    [
        ("engine.intake_valve.diameter", "98 mm", "less than the bore", "engine.intake_valve.diameter"),
        ("engine.exhaust_valve.diameter", "90 mm", "% of the bore", "engine.bore"),
        ("engine.intake_valve.lift", "24 mm", "allowed: up to", "engine.intake_valve.lift"),
        ("engine.intake_valve.lift", "2.2 mm", "less than half", "engine.intake_valve.check_lift"),
        ("engine.rod", "90 mm", "allowed: 105.6 mm to 384 mm", "engine.rod"),
        ("engine.firing", [0], "1 positions for 2 cylinders", "engine.firing"),
        ("engine.firing", [0, 240, 480], "3 positions for 2 cylinders", "engine.firing"),
        ("engine.cylinders", 3, "2 positions for 3 cylinders", "engine.firing"),
        ("engine.exhaust_port.bore", "97 mm", "wider than the cylinder", "engine.exhaust_port.bore"),
        ("carburettor.1.venturi", "46 mm", "wider than the throttle bore", "carburettor.1.venturi"),
        ("carburettor.1.venturi_from_front", "55 mm", "behind the front", "carburettor.1.venturi_from_front"),
        ("carburettor.1.main_nozzle", "1.7 mm", "narrower than the main jet", "carburettor.1.main_nozzle"),
        ("carburettor.1.venturi", "6 mm", "half of the venturi", "carburettor.1.main_nozzle"),
        ("carburettor.1.feeds", [1], "no carburettor feeds cylinder 2", "carburettor.1.feeds"),
        ("carburettor.1.feeds", [1, 1, 2], "cylinder 1 is fed by", "carburettor.1.feeds"),
        ("carburettor.1.feeds", [1, 2, 3], "the engine has 2", "carburettor.1.feeds"),
        ("carburettor", [{"feeds": [1, 2]}, {"feeds": [2]}], "cylinder 2 is fed by", "carburettor.2.feeds"),
        ("ignition.advance", [[2000, 20], [2000, 22]], "allowed: above 2000", "ignition.advance.2"),
        ("intake.mouth", "open", "only for a filter", "intake.loss"),
        ("intake.pressure_drop", "0.3 kPa", "allowed: loss alone, or", "intake.loss"),
        ("intake.branch.3", [], "a cylinder that is not there", "intake.branch.3"),
        (
            "intake.after_carburettor.1.bore_in",
            "44 mm",
            "gives bore and bore_in",
            "intake.after_carburettor.1.bore",
        ),
        ("exhaust.route", {"1": [PIPE, END]}, "exhaust.route.2 is missing", "exhaust.route"),
        ("exhaust.route.3", [PIPE, END], "a cylinder that is not there", "exhaust.route.3"),
        (
            "exhaust.route.1.2.from_end",
            "900 mm",
            "pipe before it is 900 mm long",
            "exhaust.route.1.2.from_end",
        ),
        ("exhaust.route.1.2.diameter", "44 mm", "in a bore of 44 mm", "exhaust.route.1.2.diameter"),
        ("exhaust.route.1.3.width", "45 mm", "in a bore of 44 mm", "exhaust.route.1.3.width"),
        ("exhaust.route.2.5.bore", "42 mm", "in a bore of 40 mm", "exhaust.route.2.5.bore"),
        ("exhaust.route.2.5.length", "300 mm", "pipe before it is 200 mm long", "exhaust.route.2.5.length"),
        ("exhaust.route.2.3.core_bore", "99 mm", "less than the body", "exhaust.route.2.3.core_bore"),
        ("exhaust.route.1", [END], "starts with 'end'", "exhaust.route.1.1"),
        (
            "exhaust.route.1",
            [{"piece": "disc", "open_area_fraction": 0.5}, PIPE],
            "starts with 'disc'",
            "exhaust.route.1.1",
        ),
        ("exhaust.route.1", [PIPE, END, PIPE], "only as the last piece", "exhaust.route.1.2"),
        ("exhaust.route.1", [PIPE, JOIN], "nothing follows that collector", "exhaust.route.1.2.into"),
        ("exhaust.after", {"collector 1": [PIPE, END]}, "no route joins it", "exhaust.after"),
        ("exhaust.route.1.5.to", 3, "another cylinder", "exhaust.route.1.5.to"),
        ("exhaust.route.1.5.to", 1, "another cylinder", "exhaust.route.1.5.to"),
        ("exhaust.route.1.5.at", "1 m", "route 1 is 900 mm long", "exhaust.route.1.5.at"),
        ("exhaust.route.1.5.bore", "45 mm", "wider than route 1", "exhaust.route.1.5.bore"),
        ("exhaust.lambda_sensor.1", "900 mm", "route is 900 mm long", "exhaust.lambda_sensor.1"),
        (
            "exhaust.lambda_sensor.collector 1",
            "90 mm",
            "sits in no route",
            "exhaust.lambda_sensor.collector 1",
        ),
        ("format", "pulsewright setup 2", "pulsewright setup 1", "format"),
    ],
)
def test_a_contradiction_is_refused(path: str, value, words: str, where: str):
    text = changed_text(MUFFLED_TWIN, [(path, value)])
    with pytest.raises(InputError) as refused:
        setup_from_text(text, "bench.toml")
    assert words in refused.value.what
    assert (refused.value.where or "").split(", ")[2].startswith(where)
    assert refused.value.hint


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        ("exhaust.route.1", [PIPE, END], "only route 2 joins it"),
        ("exhaust.after.collector 1", [PIPE, JOIN], "leads back into itself"),
        ("exhaust.route.1.2.into", "colector 1", "nothing follows that collector"),
        ("engine.intake_valve.lift", "9 mm", "lift table reaches 11.2 mm"),
        ("engine.intake_valve.opens", "60 deg BTDC", "the lift table opens"),
        ("engine.intake_valve.lift_table.1.2", "1 mm", "at its end"),
        ("intake.at_flow", "3 l/min", None),
        ("exhaust.after.collector 1.2.angle_by_rpm", [[2000, 40]], "given twice"),
        ("intake.at_flow", "300 l/min", "dynamic heads"),
        ("exhaust.lambda_sensor.collector 1", "501 mm", "500 mm long"),
    ],
)
def test_a_contradiction_behind_a_collector_is_refused(path: str, value, words: str | None):
    text = changed_text(COLLECTOR_TWIN, [(path, value)])
    with pytest.raises(InputError) as refused:
        setup_from_text(text, "bench.toml")
    assert (words or "allowed") in refused.value.what
    assert refused.value.hint


def test_a_crossover_in_both_routes_must_be_one_tube():
    twin = {"piece": "crossover", "to": 1, "at": "300 mm", "bore": "20 mm", "length": "150 mm"}
    route = [{**PIPE, "length": "600 mm"}, twin, END]
    setup = setup_from_text(changed_text(MUFFLED_TWIN, [("exhaust.route.2", route)]), "x")
    assert setup.exhaust.route[2][1].piece == "crossover"
    wider = [{**PIPE, "length": "600 mm"}, {**twin, "bore": "22 mm"}, END]
    with pytest.raises(InputError, match="differ in bore"):
        setup_from_text(changed_text(MUFFLED_TWIN, [("exhaust.route.2", wider)]), "x")
