import json
import os
import subprocess
import sys
from pathlib import Path

import click
import pytest

from pulsewright.cli import main as cli
from pulsewright.errors import CancelledError, InputError, LimitError, MissingToolError, UsageError

CLI = Path(cli.__file__).parent
HEAVY = (
    "numpy", "scipy", "pandas", "matplotlib", "numba", "pint", "pydantic", "rich", "plotly", "tomlkit", "sqlalchemy",
    "alembic",
)  # fmt: skip


def modules_with_a_command() -> set[str]:
    return {path.stem for path in CLI.glob("*.py") if "\ndef command(" in path.read_text(encoding="utf-8")}


def test_the_table_and_the_modules_agree():
    assert set(cli.COMMANDS) == modules_with_a_command()


@pytest.mark.parametrize("name", cli.COMMANDS)
def test_every_command_can_be_loaded_and_explains_itself(name: str, capsys: pytest.CaptureFixture[str]):
    assert cli.run([name, "--help"]) == 0
    shown = capsys.readouterr().out
    assert f"pulsewright {name}" in shown
    loaded = cli.root.get_command(click.Context(cli.root), name)
    assert isinstance(loaded, click.Command)
    assert loaded.help, f"{name} has no help text"


@pytest.mark.parametrize("arguments", [["--help"], ["version", "--help"], ["--version"], []])
def test_help_loads_nothing_heavy(arguments: list[str]):
    code = (
        "import sys\n"
        "from pulsewright.cli.main import run\n"
        f"code = run({arguments!r})\n"
        f"print('LOADED', sorted(set({HEAVY!r}) & set(sys.modules)))\n"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert "LOADED []" in out


@pytest.mark.parametrize("name", cli.COMMANDS)
def test_the_help_of_a_command_loads_nothing_heavy(name: str):
    code = f"import sys, pulsewright.cli.{name}\nprint('LOADED', sorted(set({HEAVY!r}) & set(sys.modules)))\n"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert "LOADED []" in out


def failing(error: BaseException) -> click.Command:
    @click.command()
    @cli_json_option
    def command(json_to: str | None) -> None:
        raise error

    return command


def cli_json_option(function):
    from pulsewright.cli.json_output import json_option

    return json_option(function)


@pytest.mark.parametrize(
    ("error", "code", "message"),
    [
        (
            InputError("bad", where="a.toml", hint="look"),
            4,
            "pulsewright: bad\n  where: a.toml\n  try:   look\n",
        ),
        (UsageError("bad"), 2, "pulsewright: bad\n"),
        (MissingToolError("bad"), 3, "pulsewright: bad\n"),
        (LimitError("bad"), 1, "pulsewright: bad\n"),
        (CancelledError(), 130, "pulsewright: stopped\n"),
        (FileNotFoundError(2, "No such file or directory", "x.toml"), 4, None),
    ],
)
def test_an_error_is_told_in_plain_words_with_its_code(
    error: BaseException,
    code: int,
    message: str | None,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
):
    monkeypatch.setattr(cli.LazyGroup, "get_command", lambda *_: failing(error))
    assert cli.run(["version"]) == code
    shown = capsys.readouterr()
    assert shown.out == ""
    assert shown.err == (message or "pulsewright: cannot use x.toml: No such file or directory\n")


def test_ctrl_c_is_130(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    monkeypatch.setattr(cli.LazyGroup, "get_command", lambda *_: failing(KeyboardInterrupt()))
    assert cli.run(["version"]) == 130
    assert "Traceback" not in capsys.readouterr().err


def test_a_defect_is_not_hidden(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(cli.LazyGroup, "get_command", lambda *_: failing(ZeroDivisionError("defect")))
    with pytest.raises(ZeroDivisionError):
        cli.run(["version"])


def test_programs_get_the_error_as_json(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    monkeypatch.setattr(cli.LazyGroup, "get_command", lambda *_: failing(InputError("bad", where="a.toml")))
    assert cli.run(["version", "--json", "-"]) == 4
    told = json.loads(capsys.readouterr().out)
    assert told == {
        "format": "pulsewright error 1",
        "what": "bad",
        "where": "a.toml",
        "hint": None,
        "exit_code": 4,
    }


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["versoin"], "did you mean version"),
        (["version", "--nonsense"], "pulsewright version --help"),
        (["completion", "tcsh"], "'tcsh' is not one of"),
        (["completion"], "pulsewright completion --help"),
    ],
)
def test_a_slip_of_the_keyboard_is_usage(arguments: list[str], words: str, capsys: pytest.CaptureFixture[str]):
    assert cli.run(arguments) == 2
    shown = capsys.readouterr()
    assert words in shown.err
    assert len(shown.err.splitlines()) <= 3


def test_the_process_ends_with_the_code():
    done = subprocess.run([sys.executable, "-m", "pulsewright", "nonsense"], capture_output=True, text=True)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr


def test_version_as_json_and_to_a_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    assert cli.run(["version", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["format"] == "pulsewright version 1"
    assert cli.run(["version", "--json", str(tmp_path / "v.json")]) == 0
    assert json.loads((tmp_path / "v.json").read_text()) == told


@pytest.mark.parametrize("shell", ["zsh", "fish"])
def test_completion_lines_name_the_command(shell: str, capsys: pytest.CaptureFixture[str]):
    assert cli.run(["completion", shell]) == 0
    assert "_PULSEWRIGHT_COMPLETE" in capsys.readouterr().out


def test_a_shell_gets_the_commands_offered():
    done = subprocess.run(
        [sys.executable, "-m", "pulsewright"],
        capture_output=True,
        text=True,
        check=True,
        env={"_PULSEWRIGHT_COMPLETE": "bash_complete", "COMP_WORDS": "pulsewright ver", "COMP_CWORD": "1"},
    )
    assert "version" in done.stdout


@pytest.mark.parametrize(("chosen", "found"), [(None, "1"), ("3", "3")])
def test_small_matrices_are_not_shared_out_among_threads_unless_a_person_says_so(
    monkeypatch: pytest.MonkeyPatch, chosen: str | None, found: str
):
    name = "OPENBLAS_NUM_THREADS"
    monkeypatch.setenv(name, chosen or "9")  # so that what was there before comes back
    if chosen is None:
        monkeypatch.delenv(name)
    with pytest.raises(SystemExit):
        cli.main(["version"])
    assert os.environ[name] == found
