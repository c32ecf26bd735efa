"""The rejet command: one small real run, and what is refused."""

import json
from pathlib import Path

import pytest

from pulsewright.cli.main import run

SHEET = str(Path(__file__).parents[3] / "examples" / "narrow-twin" / "setup.toml")


def test_a_small_real_run(capsys):
    said = ["--from-air", "15 degC, 101.3 kPa, 0 %", "--altitude", "5000 ft", "--rpm", "4000", "--json"]
    assert run(["rejet", SHEET, *said]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["format"] == "pulsewright rejet 1"
    assert 0.85 < data["air_density_ratio"] < 0.87
    assert data["jets_mm"]["carburettor.1.main_jet"]["model"] < data["jets_mm"]["carburettor.1.main_jet"]["now"]
    assert data["lambda_after"][0] == pytest.approx(data["lambda_before"][0], rel=2e-3)


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        ([], 2, "nothing to jet for"),
        (["--to-air", "20 degC, 90 kPa", "--altitude", "1000 m"], 2, "leave one of them out"),
        (["--altitude", "9000 m"], 2, "no height of a road"),
        (["--altitude", "1500"], 4, "no unit"),
        (["--to-air", "warm"], 2, "is no air"),
        (["--fuel", "diesel"], 2, "diesel"),
    ],
)
def test_what_cannot_work_is_refused(capsys, arguments, code, said):
    assert run(["rejet", SHEET, *arguments]) == code
    assert said in capsys.readouterr().err
