"""`pulsewright new`: a visit at the keyboard, a visit of a script, and what is refused."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from pulsewright.bench.sheet import read_setup
from pulsewright.cli.main import run
from pulsewright.cli.new import command
from pulsewright.cli.run_state import RunState

NEEDED = ["cylinders=1", "bore=90 mm", "stroke=90 mm", "venturi=36 mm", "pipe_length=34 in", "pipe_bore=42 mm"]
ANSWERS = [word for answer in NEEDED for word in ("--answer", answer)]


def test_a_script_answers_what_is_needed(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    file = tmp_path / "single.toml"
    assert run(["new", str(file), "--yes", *ANSWERS]) == 0
    told = capsys.readouterr().out
    assert "assumed: Intake opens 20 deg BTDC" in told
    setup = read_setup(file)
    assert setup.name == "single"
    assert setup.exhaust.route[1][0].length == pytest.approx(34 * 0.0254)  # type: ignore[union-attr]
    assert run(["check", str(file)]) == 0
    assert "marked on the sheet" in capsys.readouterr().out


def test_a_file_that_is_there_stays(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    file = tmp_path / "mine.toml"
    file.write_text("mine", encoding="utf-8")
    assert run(["new", str(file), "--yes", *ANSWERS]) == 4
    assert "--overwrite" in capsys.readouterr().err
    assert file.read_text(encoding="utf-8") == "mine"
    assert run(["new", str(file), "--yes", "--overwrite", *ANSWERS]) == 0
    assert read_setup(file).engine.bore == pytest.approx(0.09)


def test_a_person_is_asked_told_why_and_asked_again(tmp_path: Path):
    file = tmp_path / "s.toml"
    #        cylinders  bore: why, a slip, the answer   stroke   the rest of the engine: unknown
    typed = ["1", "?", "9000 mm", "90 mm", "90 mm", "9,2", ""]
    typed += ["16 deg BTDC", "unknown", "", "", ""]  # cam
    typed += ["", "36 mm", "", "", ""]  # carburettor: kind, venturi, two jets, fuel
    typed += ["", "860 mm", "42 mm", ""]  # exhaust: what is needed is asked again
    typed += [""] * 7
    done = CliRunner().invoke(command, [str(file)], input="\n".join(typed) + "\n", obj=RunState())
    assert done.exit_code == 0, done.output
    for said in (
        "the volume that breathes",
        "allowed: 20 mm to 200 mm",
        "assumed: 50 deg ABDC",
        "is missing",
    ):
        assert said in done.output
    assert "fire after" not in done.output  # of a single nobody asks
    keys = {a.key for a in read_setup(file).assumptions}
    assert "engine.intake_valve.closes" in keys
    assert not keys & {"engine.intake_valve.opens", "engine.compression_ratio"}


def test_what_is_needed_cannot_be_left_out(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    assert run(["new", str(tmp_path / "s.toml"), "--yes", *ANSWERS[:-2]]) == 4
    error = capsys.readouterr().err
    assert "Bore inside is missing" in error
    assert "--answer bore='90 mm'" in error  # nothing has to be typed again
    assert not (tmp_path / "s.toml").exists()


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["--answer", "bor=90 mm"], 2, "bore"),
        (["--answer", "bore"], 2, "no answer"),
        (["--answer", "bore=90"], 4, "no unit"),
        ([], 2, "which file"),
    ],
)
def test_slips_are_told(
    arguments: list[str], code: int, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    file = [str(tmp_path / "s.toml")] if arguments else []
    assert run(["new", *file, "--yes", *arguments]) == code
    assert words in capsys.readouterr().err


def test_json_holds_answers_and_assumptions(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    assert run(["new", str(tmp_path / "s.toml"), "--yes", *ANSWERS, "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["format"] == "pulsewright new sheet 1"
    assert answer["answers"]["bore"] == "90 mm"
    assert any(a["key"] == "engine.intake_valve.opens" for a in answer["assumptions"])


def test_the_questions_can_be_listed(capsys: pytest.CaptureFixture[str]):
    assert run(["new", "--questions"]) == 0
    assert any(line.startswith("bore ") and "needed" in line for line in capsys.readouterr().out.splitlines())
