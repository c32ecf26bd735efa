"""`pulsewright new`, stopped half-way: the answers given so far are there at the next start."""

import io
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from pulsewright.bench.sheet import read_setup
from pulsewright.cli.main import run
from pulsewright.cli.new import command
from pulsewright.cli.run_state import RunState
from pulsewright.new.draft import draft_of, keep_draft, read_draft

CTRL_C = KeyboardInterrupt
ENGINE = {"cylinders": "1", "bore": "90 mm", "stroke": "90 mm", "compression_ratio": ""}
REST = ["", *[""] * 5, "", "36 mm", "", "", "", "860 mm", "42 mm", "", *[""] * 7]


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "s.toml"


def typed(*answers: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A person at the keyboard who presses Ctrl-C after these answers."""
    left = iter(answers)

    def prompt(_text: str) -> str:
        try:
            return next(left)
        except StopIteration:
            raise KeyboardInterrupt from None

    monkeypatch.setattr("click.termui.visible_prompt_func", prompt)


def visit(file: Path, *lines: str):
    return CliRunner().invoke(command, [str(file)], input="\n".join(lines) + "\n", obj=RunState())


def test_ctrl_c_keeps_the_answers_and_says_where(
    file: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    typed(*ENGINE.values(), monkeypatch=monkeypatch)
    assert run(["new", str(file)]) == 130
    told = capsys.readouterr().err
    assert f"4 answers are kept in {draft_of(file)}" in told
    assert f"pulsewright new {file}" in told
    assert read_draft(file) == ENGINE
    assert not file.exists()


def test_ctrl_c_before_the_first_answer_leaves_nothing(
    file: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    typed(monkeypatch=monkeypatch)
    assert run(["new", str(file)]) == 130
    assert "kept" not in capsys.readouterr().err
    assert not draft_of(file).exists()


def test_the_next_start_goes_on_from_them(file: Path):
    keep_draft(ENGINE, file)
    done = visit(file, "y", *REST)
    assert done.exit_code == 0, done.output
    assert "4 answers of an earlier start" in done.output
    assert "Bore (94 mm" not in done.output  # not asked again
    assert "Compression ratio (" not in done.output  # 'unknown' was an answer too
    assert read_setup(file).engine.bore == pytest.approx(0.09)
    assert not draft_of(file).exists()


def test_who_says_no_begins_again(file: Path):
    keep_draft(ENGINE, file)
    done = visit(file, "n", "1", "80 mm", "70 mm", "", *REST)
    assert done.exit_code == 0, done.output
    assert read_setup(file).engine.bore == pytest.approx(0.08)


def test_stopped_twice_keeps_all(file: Path, monkeypatch: pytest.MonkeyPatch):
    keep_draft(ENGINE, file)
    typed("y", "water", monkeypatch=monkeypatch)
    assert run(["new", str(file), "--answer", "venturi=36 mm"]) == 130
    assert read_draft(file) == {"venturi": "36 mm", **ENGINE, "cooling": "water"}
    typed("y", monkeypatch=monkeypatch)  # and stopped at once: what was kept stays
    assert run(["new", str(file)]) == 130
    assert read_draft(file)["cooling"] == "water"


def test_a_script_leaves_a_draft_alone(file: Path):
    keep_draft(ENGINE, file)
    needed = ("cylinders=1", "bore=88 mm", "stroke=70 mm", "venturi=36 mm", "pipe_length=900 mm", "pipe_bore=42 mm")
    assert run(["new", str(file), "--yes", *(word for each in needed for word in ("--answer", each))]) == 0
    assert read_setup(file).engine.bore == pytest.approx(0.088)
    assert read_draft(file) == ENGINE


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("nonsense", "cannot be read"),
        ("[answers]\n", "is no draft"),
        ('format = "pulsewright new draft 1"\n[answers]\nbor = "1 mm"\n', "no question"),
        ('format = "pulsewright new draft 1"\n[answers]\nbore = "9 m"\n', "allowed"),
    ],
)
def test_a_damaged_draft_is_told(file: Path, text: str, said: str, capsys: pytest.CaptureFixture[str], monkeypatch):
    draft_of(file).write_text(text, encoding="utf-8")
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    assert run(["new", str(file)]) == 4
    error = capsys.readouterr().err
    assert said in error
    assert "s.toml.draft" in error
