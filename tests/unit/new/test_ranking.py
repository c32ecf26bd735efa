"""The ranking: doubts land where they belong, and two of its costs follow closed formulas."""

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pulsewright.bench.sheet import setup_from_text
from pulsewright.fit.unknowns import COEFFICIENTS
from pulsewright.new import doubts, ranking
from pulsewright.new.doubts import DOUBTS, doubt_of
from pulsewright.new.ranking import hole_of, rank, shifted
from pulsewright.new.varied import moved, values_in_doubt

TWIN = (Path(__file__).resolve().parents[3] / "examples" / "narrow-twin" / "setup.toml").read_text(encoding="utf-8")
BARE = """
[engine]
bore = "94 mm"
stroke = "101 mm"
compression_ratio = 9
[engine.intake_valve]
opens = "16 deg BTDC"  # assumed: a usual cam
closes = "46 deg ABDC"
[engine.exhaust_valve]
opens = "52 deg BBDC"
closes = "16 deg ATDC"
[[carburettor]]
venturi = "37 mm"
[exhaust]
route.1 = [ { piece = "pipe", length = "900 mm", bore = "43 mm" } ]
route.2 = [ { piece = "pipe", length = "900 mm", bore = "43 mm" } ]
"""


def values_of(text: str) -> dict:
    return {(v.key, v.assumed): v for v in values_in_doubt(text, setup_from_text(text, "t"))}


def test_what_was_assumed_is_doubted_more_than_what_was_measured():
    found = values_of(BARE)
    assert found["engine.intake_valve.opens", True].half_width == "8°"
    assert found["engine.intake_valve.closes", False].half_width == "4°"
    assert ("intake.branch.*", True) in found
    assert ("carburettor.*.main_jet", True) in found
    assert ("carburettor.*.main_jet", False) not in values_of(TWIN)  # its flow is the model's unknown


@pytest.mark.parametrize("text", [BARE, TWIN], ids=["bare", "twin"])
def test_every_value_moves_both_ways_or_stands_at_its_limit(text: str):
    setup = setup_from_text(text, "t")
    for value in values_in_doubt(text, setup):
        ends = [moved(text, value, setup, way) for way in (1.0, -1.0)]
        assert ends[0] is not None, value.key
        assert ends[1] is not None or value.key.endswith("check_lift"), value.key
        assert ends[0] != setup


def test_a_pipe_moves_by_its_tape_in_all_routes():
    value = values_of(TWIN)["exhaust.route.*.1.length", False]
    longer: Any = moved(TWIN, value, setup_from_text(TWIN, "t"), 1.0)
    assert [longer.exhaust.route[n][0].length for n in (1, 2)] == pytest.approx([0.91, 0.91])


def test_doubts_name_places_that_a_sheet_knows_and_one_rule_holds_for_each():
    keys = {v.key for text in (BARE, TWIN) for v in values_in_doubt(text, setup_from_text(text, "t"))}
    paths = [re.sub(r"\*", "1", key) for key in keys]
    assert all(sum(bool(re.fullmatch(d.pattern, path)) for d in DOUBTS) == 1 for path in paths)
    assert all(d.source and d.how and (d.assumed or d.measured) for d in DOUBTS)
    assert doubt_of("engine.bore") is None


def test_coefficients_move_by_the_spread_of_their_prior_within_limits():
    by_name = {u.name: u for u in COEFFICIENTS}
    assert shifted(by_name["friction"], 1.0).friction == pytest.approx(np.exp(0.25))
    assert shifted(by_name["kept_fuel"], 1.0).kept_fuel == 1.0
    assert shifted(by_name["kept_fuel"], -1.0).kept_fuel == pytest.approx(0.75)


def test_a_hole_is_read_off_a_smooth_curve():
    rpm = np.arange(2000.0, 5001.0, 300.0)
    torque = 100.0 - 15.0 * np.exp(-(((rpm - 3380.0) / 350.0) ** 2))
    assert hole_of(list(rpm), torque) == pytest.approx(3380.0, abs=20.0)
    assert np.isnan(hole_of(list(rpm), np.full(rpm.size, 100.0)))


@pytest.fixture(scope="module")
def two_costs():
    """Compression and pipe length of the invented twin, ranked by the model."""
    few = tuple(d for d in DOUBTS if d.what in ("compression ratio", "length of the exhaust pipe"))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(doubts, "DOUBTS", few)
        patch.setattr(ranking, "COEFFICIENTS", ())
        return rank(TWIN, band=(2200.0, 4000.0))


def test_compression_costs_what_the_otto_cycle_says(two_costs):
    """Efficiency 1 - r^(1 - gamma), closed form: from 9.0 to 9.3 it gains 1.05 % at gamma 1.3 and 0.93 %
    at 1.4; friction stays, so that torque gains more, by one over a mechanical efficiency of 0.75 or better."""
    (cost,) = (c for c in two_costs.costs if c.unsure.what == "compression ratio")
    otto = [(1.0 - 9.3 ** (1.0 - g)) / (1.0 - 9.0 ** (1.0 - g)) - 1.0 for g in (1.3, 1.4)]
    assert 0.9 * min(otto) < cost.torque_rms < max(otto) / 0.75


def test_ten_millimetres_of_pipe_move_the_hole_as_its_length(two_costs):
    """Echoes come back after twice the length: the hole's speed goes as one over the length, port counted in
    (closed form; the rule is good to 20 %, and the hole is read off to 10 rpm)."""
    (cost,) = (c for c in two_costs.costs if c.unsure.what == "length of the exhaust pipe")
    expected = two_costs.hole * 10.0 / (900.0 + 72.0)
    assert cost.hole_rpm == pytest.approx(expected, abs=0.2 * expected + 10.0)


def test_shares_add_up_and_json_is_plain(two_costs):
    import json

    from pulsewright.cli.json_output import plain

    assert sum(two_costs.share(c) for c in two_costs.costs) == pytest.approx(1.0)
    told = json.loads(json.dumps(plain(two_costs.as_json()), allow_nan=False))
    assert told["format"] == "pulsewright ranking 1"
    assert [u["known_by"] for u in told["unknowns"]] == ["measured", "measured"]
    assert told["together"]["torque_percent"] == pytest.approx(100.0 * two_costs.torque_rms)
