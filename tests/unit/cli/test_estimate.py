"""`pulsewright estimate`: typed as on the bench, answered in lines for the sheet."""

import json
import tomllib
from pathlib import Path

import pytest

from pulsewright.cli.estimate import FLUIDS
from pulsewright.cli.main import run
from pulsewright.new.jet_from_flow import FLUIDS as KNOWN_FLUIDS

JET = ["estimate", "jet-bore", "--flow", "250 cc/min", "--head", "500 mm"]
VALVE = ["estimate", "valve-cd", "--flow", "150 cfm", "--lift", "9 mm", "--diameter", "46.5 mm", "--valve", "intake"]


def test_a_jet_in_one_line_with_its_band(capsys: pytest.CaptureFixture[str]):
    assert run(JET) == 0
    text = capsys.readouterr().out
    # 4.1667e-6 m³/s over 0.78 * sqrt(2 g 0.5 m) = 2.4426 m/s: 1.7058 mm², worked by hand: 1.4737 mm
    assert text.splitlines()[0].startswith("# main jet 1.47 mm, 1.41 mm to 1.56 mm")
    assert tomllib.loads(text) == {"main_jet": "1.47 mm"}


def test_json_names_the_key_as_set_takes_it(capsys: pytest.CaptureFixture[str]):
    assert run([*JET, "--jet", "intermediate_jet", "--carburettor", "2", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["format"] == "pulsewright estimate 1"
    (value,) = answer["values"]
    assert value["key"] == "carburettor.2.intermediate_jet"
    assert value["value"] == pytest.approx(1.4737e-3, rel=1e-4)
    assert value["low"] < value["value"] < value["high"]


def test_a_flow_bench_without_its_pressure_drop_is_refused(capsys: pytest.CaptureFixture[str]):
    assert run(VALVE) == 2
    assert "--pressure-drop" in capsys.readouterr().err
    assert run([*VALVE, "--pressure-drop", "28 inH2O"]) == 0
    assert "flow_factor" in capsys.readouterr().out


def test_volume_and_mass_flow_are_the_same_air(capsys: pytest.CaptureFixture[str]):
    """150 cubic feet a minute are 0.070792 m³/s; at 1.20411 kg/m³ (101.325 kPa, 20 degC) 85.24 g/s."""
    tail = ["--pressure-drop", "28 inH2O", "--json"]
    assert run([*VALVE, *tail]) == 0
    by_volume = json.loads(capsys.readouterr().out)["points"][0]["mass_flow"]
    assert by_volume == pytest.approx(0.08524, rel=1e-4)


def test_flows_and_lifts_come_in_pairs(capsys: pytest.CaptureFixture[str]):
    assert run([*VALVE, "--lift", "5 mm", "--pressure-drop", "28 inH2O"]) == 2
    assert "do not make pairs" in capsys.readouterr().err


def test_a_lift_table_from_a_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    path = tmp_path / "lift.txt"
    path.write_text("angle; lift mm\n300;0\n350;1\n450;10\n550;1\n600;0\n", encoding="utf-8")
    assert run(["estimate", "cam-timing", "--lift-table", str(path), "--valve", "intake"]) == 0
    assert 'opens = "10 deg BTDC"' in capsys.readouterr().out
    assert run(["estimate", "cam-timing", "--lift-table", str(path), "--valve", "exhaust"]) == 4
    assert "--zero" in capsys.readouterr().err


def test_a_wrong_unit_names_its_option(capsys: pytest.CaptureFixture[str]):
    assert run(["estimate", "port-volume", "--fluid", "95 mm", "--bore", "40 mm", "--port", "exhaust"]) == 4
    assert "where: --fluid" in capsys.readouterr().err


def test_the_command_offers_what_the_estimate_knows():
    assert tuple(FLUIDS) == KNOWN_FLUIDS
