"""`pulsewright check`: a visit with a good sheet, a bad sheet and a session."""

import json
from pathlib import Path

import pytest

from pulsewright.cli.main import run

SHEET = """
name = "as it came in"
[engine]
bore = "88 mm"
stroke = "82 mm"
compression_ratio = 9
[engine.intake_valve]
opens = "30 deg BTDC"
closes = "60 deg ABDC"
[engine.exhaust_valve]
opens = "60 deg BBDC"
closes = "30 deg ATDC"
[[carburettor]]
main_jet = "1.5 mm"
[exhaust]
route.1 = [
  { piece = "pipe", length = "800 mm", bore = "42 mm", bends = [90, 45] },
  { piece = "muffler", body_length = "300 mm", body_bore = "90 mm", core_bore = "40 mm", core = "louvred" },
]
"""
SESSION = """
complaint = "flat at 3000"
[[setup]]
name = "A"
sheet = "setup.toml"
[[setup]]
name = "B"
based_on = "A"
change = [ ["carburettor.1.main_jet", "1.4 mm"] ]
note = "leaner"
[[pull]]
file = "01.csv"
setup = "B"
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "setup.toml").write_text(SHEET, encoding="utf-8")
    (tmp_path / "session.toml").write_text(SESSION, encoding="utf-8")
    (tmp_path / "01.csv").write_text("rpm\n", encoding="utf-8")
    return tmp_path


def test_a_sheet_is_told_back_with_every_assumption(folder: Path, capsys: pytest.CaptureFixture[str]):
    assert run(["check", str(folder / "setup.toml")]) == 0
    text = capsys.readouterr().out
    assert "as it came in" in text
    assert "88 mm × 82 mm" in text
    assert "30° BTDC to 60° ABDC" in text
    assert "800 mm × 42 mm bent 90° + 45°" in text
    assert "engine.rod = 147.6 mm" in text
    assert "not on the sheet; 1.8 strokes" in text


def test_json_holds_the_numbers_and_the_assumptions(folder: Path, capsys: pytest.CaptureFixture[str]):
    path = str(folder / "setup.toml")
    assert run(["check", path, "--set", "carburettor.1.main_jet=1.45 mm", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert (answer["format"], answer["kind"], answer["name"]) == (
        "pulsewright check 1",
        "setup",
        "as it came in",
    )
    assert answer["read"]["engine"]["bore"] == pytest.approx(0.088)
    assert answer["read"]["carburettors"][0]["main_jet"] == pytest.approx(1.45e-3)
    assert [piece["piece"] for piece in answer["read"]["exhaust"]["route"]["1"]] == ["pipe", "muffler", "end"]
    assert all(set(each) == {"key", "value", "why"} for each in answer["assumptions"])


@pytest.mark.parametrize("what", [".", "session.toml"])
def test_a_session_is_told_back(folder: Path, what: str, capsys: pytest.CaptureFixture[str]):
    assert run(["check", str(folder / what)]) == 0
    text = capsys.readouterr().out
    assert "flat at 3000" in text
    assert "setup B: as it came in, based on A, 1 pull (leaner)" in text
    assert "carburettor.1.main_jet = 1.4 mm" in text


def test_a_session_in_json(folder: Path, capsys: pytest.CaptureFixture[str]):
    assert run(["check", str(folder), "--json", "-"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["kind"] == "session"
    assert [each["name"] for each in answer["read"]["setups"]] == ["A", "B"]
    assert answer["read"]["pulls"][0]["file"] == "01.csv"
    assert answer["read"]["setups"][1]["assumptions"]


def test_bad_input_is_exit_4_in_three_lines(folder: Path, capsys: pytest.CaptureFixture[str]):
    (folder / "setup.toml").write_text(SHEET.replace('"88 mm"', '"9600 mm"'), encoding="utf-8")
    assert run(["check", str(folder / "setup.toml")]) == 4
    error = capsys.readouterr().err.splitlines()
    assert error[0] == "pulsewright: engine.bore is '9600 mm'; allowed: 20 mm to 200 mm"
    assert error[1].strip() == f"where: {folder / 'setup.toml'}, line 4, engine.bore"
    assert error[2].strip().startswith("try:")
    assert len(error) == 3


def test_set_is_for_sheets(folder: Path, capsys: pytest.CaptureFixture[str]):
    assert run(["check", str(folder), "--set", "engine.bore=90 mm"]) == 2
    assert "not a session" in capsys.readouterr().err
