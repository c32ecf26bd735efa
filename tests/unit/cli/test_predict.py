"""The predict command: what is refused before the model runs, and what is printed after it."""

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from tests.trade.layouts import UNLIKE

from pulsewright.bench.assumption import Assumption
from pulsewright.bench.sheet import read_setup
from pulsewright.cli.main import run
from pulsewright.cli.speeds import parse_speeds
from pulsewright.errors import UsageError
from pulsewright.simulate.cautions import cautions, stretches
from pulsewright.simulate.outcome import CONVERGED, SWINGS
from pulsewright.simulate.prediction import Prediction

EXAMPLE = Path(__file__).parents[3] / "examples" / "narrow-twin"
SHEET = str(EXAMPLE / "setup.toml")
# the contract's keys, and whether each holds a flat list over rpm
CONTRACT = {
    "format": False, "rpm": True, "torque_nm": True, "power_kw": True, "volumetric_efficiency": True,
    "lambda_delivered": True, "lambda_trapped": True, "lambda_sensor": False, "residual_fraction": True,
    "reversed_air_fraction": True, "exhaust_temperature_k": True, "back_pressure_kpa": True,
    "knock_margin": True, "per_cylinder": False, "outcome": True, "cycles": True,
    "torque_left_nm": True, "level": False, "level_error": False,
    "wall_s": False, "assumptions": False,
}  # fmt: skip


# --- speeds -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "speeds"),
    [
        ("1500:6000:1500", [1500, 3000, 4500, 6000]),
        ("1500:5900:1500", [1500, 3000, 4500]),
        ("2000:2000:250", [2000]),
        ("1000:1000.3:0.1", [1000, 1000.1, 1000.2, 1000.3]),
        ("3000,2000,3000", [3000, 2000]),
        ("3000", [3000]),
    ],
)
def test_speeds_as_they_are_typed(text, speeds):
    assert parse_speeds(text) == pytest.approx(speeds)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("fast", "no number"), ("", "no number"), ("2000,", "no number"), ("nan", "no number"),
        ("-3000", "no engine speed"), ("99", "no engine speed"), ("1e6", "no engine speed"),
        ("0:6000:250", "no engine speed"), ("6000:1500:250", "from 6000 down to 1500"),
        ("1500:6000", "no range"), ("1500:6000:0", "above 0"), ("1500:6000:-50", "above 0"),
        ("1500:6000:1", "too many"), ("1500:6000:1e-300", "too many"), ("1500:6000:inf", "no number"),
    ],
)  # fmt: skip
def test_speeds_that_cannot_be(text, said):
    with pytest.raises(UsageError, match=said):
        parse_speeds(text)


# --- refused before the model runs ------------------------------------------------------------


@pytest.fixture
def no_model(monkeypatch):
    """A model that must not be asked."""

    def predict(*_arguments, **_more):
        raise AssertionError("the model was run")

    monkeypatch.setattr("pulsewright.simulate.predict.predict", predict)


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        ([SHEET, "--rpm", "0"], 2, "no engine speed"),
        ([SHEET, "--ends", "shut"], 2, "non-reflecting"),
        ([SHEET, "--mixture", "14.7"], 2, "no lambda"),
        ([SHEET, "--mixture", "0.9", "--mixture-from", "x"], 2, "cannot go together"),
        ([SHEET, "--json", "-", "--csv", "-"], 2, "cannot both be printed"),
        ([SHEET, "--csv", "/nowhere/at/all.csv"], 4, "no folder"),
        ([SHEET, "--json", "/nowhere/at/all.json"], 4, "no folder"),
        ([SHEET, "--set", "engine.boar=90 mm"], 4, "engine.bore"),
        ([SHEET, "--set", "engine.bore=-90 mm"], 4, "bore"),
        ([SHEET, "--setup", "B"], 2, "SHEET is none"),
        ([SHEET, "--mixture-from", "/nowhere"], 4, "/nowhere"),
        (["/nowhere.toml"], 4, "/nowhere.toml"),
    ],
)
def test_what_cannot_work_is_refused_before_the_model_runs(no_model, capsys, arguments, code, said):
    assert run(["predict", *arguments]) == code
    assert said in capsys.readouterr().err


# --- the real model, few speeds ---------------------------------------------------------------


def test_json_has_the_form_of_the_contract(capsys):
    assert run(["predict", SHEET, "--rpm", "3500,4000", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["format"] == "pulsewright prediction 1"
    assert set(CONTRACT) <= set(data)
    for key, is_curve in CONTRACT.items():
        if is_curve:
            assert len(data[key]) == 2, key
    assert data["rpm"] == [3500, 4000]
    assert set(data["lambda_sensor"]) == {"1"}
    assert set(data["per_cylinder"]) == {"1", "2"}
    assert len(data["per_cylinder"]["2"]["lambda_trapped"]) == 2
    assert all(isinstance(n, int) for n in data["cycles"])
    assert data["outcome"] == [CONVERGED, CONVERGED]
    assert all(set(each) == {"key", "value", "why"} for each in data["assumptions"])
    # power is torque times angular speed
    for rpm, torque, power in zip(data["rpm"], data["torque_nm"], data["power_kw"], strict=True):
        assert power == pytest.approx(torque * rpm * np.pi / 30e3, rel=1e-4)


def test_json_and_csv_files_say_the_same_and_a_change_is_made(tmp_path, capsys):
    as_json, as_csv = tmp_path / "p.json", tmp_path / "p.csv"
    change = "exhaust.route.1.1.length=700 mm"
    options = ["--mixture", "0.88", "--set", change, "--ends", "non-reflecting"]
    arguments = ["predict", SHEET, "--rpm", "4000", *options, "--json", str(as_json), "--csv", str(as_csv)]
    assert run(arguments) == 0
    out = capsys.readouterr().out
    data = json.loads(as_json.read_text(encoding="utf-8"))
    assert data["conditions"]["changes"] == [change]
    assert data["conditions"]["ends"] == "non-reflecting"
    assert data["lambda_trapped"][0] == pytest.approx(0.88, abs=0.005)
    assert data["lambda_delivered"][0] == pytest.approx(0.88, abs=0.005)
    with as_csv.open(encoding="utf-8", newline="") as file:
        (row,) = csv.DictReader(file)
    assert float(row["torque_nm"]) == data["torque_nm"][0]
    assert float(row["lambda_sensor_1"]) == data["lambda_sensor"]["1"][0]
    assert float(row["lambda_trapped_cylinder_2"]) == data["per_cylinder"]["2"]["lambda_trapped"][0]
    assert row["outcome"] == CONVERGED
    assert "torque" in out
    assert "Assumed" in out


def test_the_grid_check_fails_above_one_per_cent(monkeypatch, capsys):
    def grid(_setup, rpm, options, **_more):
        torque = {1.0: [100.0, 90.0], 0.5: [100.9, fine]}[options.grid]
        return invented(rpm=rpm, torque_nm=torque)

    monkeypatch.setattr("pulsewright.simulate.predict.predict", grid)
    for fine, code in ((90.85, 0), (88.9, 1)):
        assert run(["predict", SHEET, "--rpm", "3000,4000", "--grid-check", "--json"]) == code
        captured = capsys.readouterr()
        change = json.loads(captured.out)["grid_change"]
        assert change == pytest.approx([0.009, fine / 90.0 - 1.0], rel=1e-6)
        assert ("ABOVE" in captured.err) == bool(code)


def test_an_interrupt_ends_with_130(monkeypatch, capsys):
    def stopped(*_arguments, **_more):
        raise KeyboardInterrupt

    monkeypatch.setattr("pulsewright.simulate.predict.predict", stopped)
    assert run(["predict", SHEET, "--rpm", "3000"]) == 130
    assert "stopped" in capsys.readouterr().err


# --- what is told about it --------------------------------------------------------------------


def invented(**changed) -> Prediction:
    """A prediction without a model: 100 N m, lambda 0.85, no knock."""
    rpm = np.array(changed.pop("rpm", [2000.0, 2500.0, 3000.0]), dtype=float)
    flat = np.ones_like(rpm)
    trapped = changed.pop("by_cylinder", {"1": 0.85 * flat, "2": 0.85 * flat})
    firing = changed.pop("firing", {})
    values = {
        "torque_nm": 100.0 * flat, "power_kw": 30.0 * flat, "volumetric_efficiency": 0.9 * flat,
        "lambda_delivered": 0.85 * flat, "lambda_trapped": 0.85 * flat, "lambda_sensor": {"1": 0.86 * flat},
        "residual_fraction": 0.05 * flat, "reversed_air_fraction": 0.2 * flat,
        "exhaust_temperature_k": 1000.0 * flat, "back_pressure_kpa": 3.0 * flat, "knock_margin": 0.4 * flat,
        "per_cylinder": {
            n: {
                "lambda_trapped": np.array(curve),
                "firing_share": np.array(firing.get(n, flat)),
                "indicated_torque_nm": 50.0 * flat,
            }
            for n, curve in trapped.items()
        },
        "outcome": (CONVERGED,) * rpm.size, "cycles": (5,) * rpm.size, "torque_left_nm": 0.02 * flat,
        "level": "final", "level_error": {"half": 0.0, "nine_in_ten": 0.0}, "wall_s": 0.1,
        "assumptions": (Assumption(key="engine.rod", value="190 mm", why="twice the stroke"),),
    }  # fmt: skip
    arrays = {k: np.array(v) if isinstance(v, list) else v for k, v in changed.items()}
    return Prediction(rpm=rpm, **{**values, **arrays})


def test_a_rich_engine_without_knock_needs_no_caution():
    assert cautions(invented(), read_setup(SHEET)) == []


@pytest.mark.parametrize(("cooling", "gate"), [("air", 0.92), ("water", 0.95)])
def test_every_cylinder_is_held_against_the_lean_gate_of_its_cooling(cooling, gate):
    setup = read_setup(SHEET, [("engine.cooling", cooling)])
    lean = {"1": [0.85, 0.85, 0.85], "2": [gate - 0.005, gate + 0.005, 1.02]}
    amber, red = sorted(cautions(invented(by_cylinder=lean), setup), key=lambda c: c.level)
    assert (amber.cylinder, amber.rpm, amber.level) == ("2", (2500.0,), "amber")
    assert (red.cylinder, red.rpm, red.level) == ("2", (3000.0,), "red")


def test_knock_and_misfire_are_told_with_their_doubt():
    told = cautions(invented(knock_margin=[0.1, -0.1, -0.5], outcome=(CONVERGED, CONVERGED, SWINGS)), read_setup(SHEET))
    assert [(c.level, c.rpm) for c in told] == [
        ("red", (3000.0,)),
        ("amber", (2500.0,)),
        ("amber", (3000.0,)),
    ]
    assert "30 %" in told[1].what
    assert "misfire" in told[2].what


def test_a_cylinder_that_misses_now_and_then_is_told_although_every_cycle_repeats_itself():
    told = cautions(invented(firing={"2": [1.0, 0.97, 0.7]}), read_setup(SHEET))
    assert [(c.level, c.rpm) for c in told] == [("amber", (3000.0,))]
    assert "70 % of the cycles" in told[0].what


def test_stretches_draw_neighbours_together():
    speeds = np.array([2000.0, 2500.0, 3000.0, 3500.0, 4000.0])
    assert stretches((2000.0, 2500.0, 4000.0), speeds) == "2000 to 2500 and 4000 rpm"
    assert stretches((3000.0,), speeds) == "3000 rpm"


def test_the_table_shows_a_dash_for_what_could_not_be_computed(monkeypatch, capsys):
    monkeypatch.setattr(
        "pulsewright.simulate.predict.predict",
        lambda *_a, **_k: invented(torque_nm=[100.0, float("nan"), 90.0], outcome=(CONVERGED, SWINGS, CONVERGED)),
    )
    assert run(["predict", SHEET, "--assumptions"]) == 0
    out = capsys.readouterr().out
    row = next(line for line in out.splitlines() if line.strip().startswith("2500 "))
    assert row.split()[1] == "-"
    assert "does not settle" in row
    assert "twice the stroke" in out
    assert "fires and misfires by turns" in out


def test_the_levels_of_the_command_are_those_of_the_ladder():
    from pulsewright.cli.predict import LEVELS as TYPED
    from pulsewright.simulate.fidelity import LEVELS

    assert list(LEVELS) == TYPED


def test_a_coarse_level_says_how_far_off_it_may_be(capsys):
    assert run(["predict", SHEET, "--rpm", "4000", "--level", "drag", "--json", "-q"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["level"] == "drag"
    assert 0.0 < data["level_error"]["half"] < data["level_error"]["nine_in_ten"]
    assert run(["predict", SHEET, "--rpm", "4000", "--level", "drag", "-q"]) == 0
    assert "Level drag: torque is within" in capsys.readouterr().out


def test_one_throttle_opening_gives_less_torque(capsys):
    assert run(["predict", SHEET, "--rpm", "3000", "--level", "drag", "--throttle", "30 %", "--json", "-q"]) == 0
    part = json.loads(capsys.readouterr().out)
    assert part["conditions"]["throttle"] == 0.3
    assert run(["predict", SHEET, "--rpm", "3000", "--level", "drag", "--json", "-q"]) == 0
    whole = json.loads(capsys.readouterr().out)
    assert whole["conditions"]["throttle"] == 1.0
    assert part["torque_nm"][0] < 0.8 * whole["torque_nm"][0]
    assert not any("full throttle" in caution["what"] for caution in part["cautions"])
    assert {a["key"] for a in part["assumptions"]} > {"model.progression_holes"}


def test_a_piston_tells_its_lift(capsys, tmp_path):
    sheet = tmp_path / "setup.toml"
    text = Path(SHEET).read_text(encoding="utf-8").replace("fixed venturi", "constant velocity")
    sheet.write_text(text, encoding="utf-8")
    said = ["--rpm", "2000,4000", "--level", "drag", "--set", "carburettor.1.main_air_bleed=0", "-q"]
    assert run(["predict", str(sheet), *said, "--json"]) == 0
    low, high = json.loads(capsys.readouterr().out)["piston_lift_mm"]["1"]
    assert 5.0 < low < high <= 37.0
    assert run(["predict", str(sheet), *said, "--csv", "-"]) == 0
    assert "piston_lift_mm_1" in capsys.readouterr().out.splitlines()[0]


def test_several_throttle_openings_make_a_map(capsys, tmp_path):
    kept = tmp_path / "map.json"
    said = ["--rpm", "3000", "--level", "drag", "--throttle", "10:100:45", "-q", "--json", str(kept)]
    assert run(["predict", SHEET, *said]) == 0
    data = json.loads(kept.read_text(encoding="utf-8"))
    assert data["format"] == "pulsewright throttle map 1"
    assert data["throttle"] == [0.1, 0.55, 1.0]
    assert data["rules"] == [["idle and progression"], ["main jet"], ["main jet"]]
    text = capsys.readouterr().out
    assert "I idle and progression" in text
    assert text.index("   100 %") < text.index("    10 %")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--throttle", "0.4"], "out of range"),
        (["--throttle", "half"], "no throttle opening"),
        (["--throttle", "40:10:5"], "no range"),
        (["--throttle", "1:100:1"], "too many"),
        (["--throttle", "10,20", "--mixture", "0.9"], "goes only with"),
        (["--throttle", "10,20", "--grid-check"], "goes only with"),
    ],
)
def test_throttles_that_cannot_be_are_refused(capsys, arguments, said):
    assert run(["predict", SHEET, *arguments]) == 2
    assert said in capsys.readouterr().err


def test_a_six_says_how_its_cylinders_differ_and_keeps_its_headings(capsys, tmp_path):
    """Seven sensors have a table of their own, and like cautions are said once for all their cylinders."""
    sheet = tmp_path / "six.toml"
    sheet.write_text(UNLIKE["six on two carburettors, 6-2-1"])
    assert run(["predict", str(sheet), "--rpm", "5000", "--quiet"]) == 0
    out = capsys.readouterr().out
    assert "lambda differs most at 5000 rpm, by " in out
    assert "(1 1.0" in out
    assert "…" not in out
    assert "sensor  sensor  sensor  sensor  sensor  sensor     sensor" in out
    assert "cylinders 1, 3, 4, 6 at 5000 rpm" in " ".join(out.split())
