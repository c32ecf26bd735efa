"""The echo command, with a stand-in for the model: what is refused before it runs, what is drawn after."""

import sys
from types import ModuleType, SimpleNamespace
from typing import Any

import numpy as np
import pytest

from pulsewright.cli.echo import command
from pulsewright.errors import InputError, UsageError
from pulsewright.simulate.echo_field import EchoField, OutlinePart


def small_field(rpm: float, cylinder: int) -> EchoField:
    crank, place = np.linspace(0.0, 720.0, 37), np.linspace(0.0, 0.9, 10)
    wave = 1e4 * np.sin(np.radians(crank))[None, :] * np.ones((10, 1))
    pipe = OutlinePart(kind="pipe", start=0.0, end=0.9, bore_start=0.044, bore_end=0.044)
    return EchoField(
        rpm=rpm, cylinder=cylinder, crank_deg=crank, place=place, pressure=1e5 + wave, forward=wave / 2,
        returning=wave / 2, ambient=1e5, intake_window=(338.0, 594.0), exhaust_window=(126.0, 382.0),
        lift_intake=0 * crank, lift_exhaust=0 * crank, outline=(pipe,),
        echo_arrival_deg=360.0, echo_pressure=5e3,
        echo_sign="pressure", sentence="One plain sentence.",
    )  # fmt: skip


@pytest.fixture
def calls(monkeypatch) -> list[dict[str, Any]]:
    """What the sheet reader and the model were asked for."""
    asked: list[dict[str, Any]] = []

    def read_setup(path, changes=()):
        asked.append({"sheet": path, "changes": list(changes)})
        return SimpleNamespace(engine=SimpleNamespace(cylinders=2))

    def compute_echo(setup, rpm, cylinder=1, ends="as built"):
        asked.append({"rpm": rpm, "cylinder": cylinder, "ends": ends})
        return small_field(rpm, cylinder)

    model = ModuleType("pulsewright.simulate.echo")
    model.compute_echo = compute_echo  # pyright: ignore[reportAttributeAccessIssue]
    monkeypatch.setitem(sys.modules, "pulsewright.simulate.echo", model)
    monkeypatch.setattr("pulsewright.bench.sheet.read_setup", read_setup)
    return asked


def run(*arguments: str) -> None:
    command.main(list(arguments), standalone_mode=False)


@pytest.mark.parametrize(("ending", "start"), [("svg", "<?xml"), ("html", "<!doctype html>"), ("png", "\x89PNG")])
def test_it_draws_what_the_ending_asks_for(tmp_path, calls, capsys, ending, start):
    path = tmp_path / f"echo.{ending}"
    run(
        "twin.toml",
        "--rpm",
        "3000",
        "-o",
        str(path),
        "--cylinder",
        "2",
        "--set",
        "exhaust.route.1.1.length=800 mm",
    )
    assert path.read_bytes().decode("latin-1").startswith(start)
    assert calls[0]["changes"] == [("exhaust.route.1.1.length", "800 mm")]
    assert calls[1] == {"rpm": 3000.0, "cylinder": 2, "ends": "as built"}
    assert capsys.readouterr().out == "One plain sentence.\n"


@pytest.mark.parametrize(
    ("arguments", "error", "said"),
    [
        (["--rpm", "3000", "-o", "echo.pdf"], UsageError, "ending"),
        (["--rpm", "0", "-o", "echo.svg"], UsageError, "no engine speed"),
        (["--rpm", "nan", "-o", "echo.svg"], UsageError, "no engine speed"),
        (["--rpm", "3000", "-o", "/nowhere/at/all/echo.svg"], InputError, "no folder"),
        (["--rpm", "3000", "-o", "echo.svg", "--cylinder", "3"], UsageError, "this engine has 2"),
        (["--rpm", "3000", "-o", "echo.svg", "--set", "nothing"], UsageError, "not a change"),
    ],
)
def test_what_cannot_work_is_refused_before_the_model_runs(calls, arguments, error, said):
    with pytest.raises(error, match=said):
        run("twin.toml", *arguments)
    assert not [call for call in calls if "rpm" in call]
