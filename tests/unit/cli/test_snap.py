"""`pulsewright snap`: one small real run, and what is refused."""

import json
from pathlib import Path

import pytest

from pulsewright.cli.main import run

SHEET = str(Path(__file__).parents[3] / "examples" / "narrow-twin" / "setup.toml")
PUMP = ("--set", "carburettor.1.pump_volume=0.8 cm^3")


def test_a_small_real_run(capsys: pytest.CaptureFixture[str], tmp_path: Path):
    to = tmp_path / "snap.json"
    assert run(["snap", SHEET, "--rpm", "3000", "--from", "20%", *PUMP, "--json", str(to)]) == 0
    said = capsys.readouterr().out
    data = json.loads(to.read_text(encoding="utf-8"))
    assert data["format"] == "pulsewright throttle snap 1"
    assert data["steady"]["throttle"][0] == pytest.approx(0.2)
    assert len(data["steady"]["outcome"]) == 7
    assert data["steady"]["air_kg_s"] == sorted(data["steady"]["air_kg_s"])
    assert [film["film"] for film in data["films"]] == ["guess", "guess", "guess", "fit to pressure"]
    for film in data["films"]:
        assert max(film["lambda_without_pump"]) > max(film["lambda"])
        assert film["lambda"][-1] == pytest.approx(data["steady"]["lambda"][-1], rel=0.03)
        assert film["pumped_cm3"] == pytest.approx(0.8 * 0.8)
    for words in ("pump 0.80 cm³", "with pump", "without pump", "the film takes up"):
        assert words in said


def test_without_a_pump_it_says_what_to_try(capsys: pytest.CaptureFixture[str]):
    film = ("--film-share", "0.3", "--film-time", "400 ms")
    assert run(["snap", SHEET, "--rpm", "3000", "--from", "50%", *film]) == 0
    said = capsys.readouterr().out
    assert "no pump on the sheet" in said
    assert "pump_volume=0.6 cm^3" in said
    assert "film: 30% of the fuel, 0.4 s" in said
    assert "with pump " not in said


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (["--rpm", "30"], 2, "no engine speed"),
        (["--rpm", "3000", "--from", "0%"], 2, "no throttle opening"),
        (["--rpm", "3000", "--in", "9 s"], 2, "out of range"),
        (["--rpm", "3000", "--film-share", "0.3"], 2, "belong together"),
        (["--rpm", "3000", "--film-share", "1.2", "--film-time", "1 s"], 2, "0 to 0.95"),
        (["--rpm", "3000", "--in", "fast"], 4, "fast"),
        (["--rpm", "3000", "--set", "carburettor.1.pump_time=0.2 s"], 4, "no pump_volume"),
    ],
)
def test_what_cannot_work_is_refused(arguments: list[str], code: int, said: str, capsys: pytest.CaptureFixture[str]):
    assert run(["snap", SHEET, *arguments]) == code
    assert said in capsys.readouterr().err
