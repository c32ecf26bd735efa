"""A recipe makes the same pull again from the raw file, and refuses everything else."""

import json
from dataclasses import fields, replace

import numpy as np
import pytest
from click.testing import CliRunner
from tests.pull_logs import Log, write_log

from pulsewright.bench.roller import RollerDyno
from pulsewright.cli.pulls import command
from pulsewright.errors import InputError, UsageError
from pulsewright.pulls.pull import Pull
from pulsewright.pulls.read_pull import read_pull, read_pulls
from pulsewright.pulls.reading import Reading
from pulsewright.pulls.recipe import Step
from pulsewright.pulls.replay import read_recipe, replay


def _run(*arguments: object):
    return CliRunner().invoke(command, [str(a) for a in arguments], catch_exceptions=False)


def _same(one: Pull, two: Pull) -> None:
    for each in fields(Pull):
        first, second = getattr(one, each.name), getattr(two, each.name)
        if isinstance(first, dict):
            assert first.keys() == second.keys()
            for key in first:
                np.testing.assert_array_equal(first[key], second[key])
        elif isinstance(first, np.ndarray):
            np.testing.assert_array_equal(first, second)
        else:
            assert first == second or each.name in ("setup", "starts_at"), each.name


def _three(tmp_path):
    """Three pulls in one file in words that no reader knows, some rows out of order."""
    logs = [Log(seed=k, gain=1.0 - 0.1 * k).columns() for k in range(3)]
    rows = [row for log in logs for row in zip(log["time"], log["rpm"], log["torque"] / 1.3558, strict=True)]
    rows[40], rows[41] = rows[41], rows[40]
    text = "Ch1;Ch2;Ch3\n" + "".join(f"{t:.2f};{n:.1f};{m:.2f}\n".replace(".", ",") for t, n, m in rows)
    (tmp_path / "a.csv").write_text(text)
    said = {"time": "Ch1", "engine_speed": "Ch2", "torque": "Ch3"}
    return tmp_path / "a.csv", Reading(columns=said, units={"torque": "lbf ft"})


def test_every_pull_of_a_file_comes_back_by_its_recipe(tmp_path):
    path, reading = _three(tmp_path)
    raw = path.read_bytes()
    for number, pull in enumerate(read_pulls(path, reading=reading), start=1):
        (tmp_path / "r.json").write_text(json.dumps(pull.recipe.as_json()))
        again = replay(path, read_recipe(tmp_path / "r.json"))
        assert again.number == number
        _same(again, pull)
    assert path.read_bytes() == raw


def test_a_roller_with_its_coast_down_file_comes_back_and_another_file_is_refused(tmp_path):
    log = Log(noise=0.0).columns()
    path = write_log(tmp_path / "a.csv", {name: log[name] for name in ("time", "rpm", "roller")})
    time = np.arange(0.0, 60.0, 0.1)
    coast = tmp_path / "coast.csv"
    text = "t (s);roller speed (m/s)\n" + "".join(f"{t:.1f};{40.0 - 0.4 * t:.4f}\n" for t in time)
    coast.write_text(text)
    dyno = RollerDyno(inertia=4.0, radius=0.2, engine_inertia=0.04, coast_down=coast)
    pull = read_pull(path, reading=Reading(roller=dyno))
    (tmp_path / "r.json").write_text(json.dumps(pull.recipe.as_json()))
    _same(replay(path, read_recipe(tmp_path / "r.json")), pull)
    coast.write_text(text.replace("40.0", "41.0", 1))
    with pytest.raises(InputError, match="coast-down file is not the one"):
        replay(path, read_recipe(tmp_path / "r.json"))


def test_another_file_or_another_way_is_refused(tmp_path):
    path = write_log(tmp_path / "a.csv", Log().columns())
    recipe = read_pull(path).recipe
    odd = Step(action="take pull", parameters={"number": 2})
    for changed in (replace(recipe, steps=recipe.steps[:-1]), replace(recipe, steps=(odd, *recipe.steps[1:]))):
        with pytest.raises(InputError, match="does not lead to the same pull"):
            replay(path, changed)
    with pytest.raises(InputError, match="not known here"):
        replay(path, replace(recipe, said={"colour": "blue"}))
    path.write_bytes(path.read_bytes().replace(b"0.", b"1.", 1))
    with pytest.raises(InputError, match="fingerprint differs"):
        replay(path, recipe)


def test_the_command_reads_by_what_it_wrote(tmp_path):
    path, _ = _three(tmp_path)
    said = ("--column", "time=Ch1", "--column", "engine_speed=Ch2", "--column", "torque=Ch3", "--as", "torque=lbf ft")
    _run("read", path, *said, "--pull", 2, "--json", tmp_path / "two.json")
    _run("read", path, "--recipe", tmp_path / "two.json", "--json", tmp_path / "again.json")
    assert (tmp_path / "again.json").read_text() == (tmp_path / "two.json").read_text()
    with pytest.raises(UsageError, match="a recipe says all"):
        _run("read", path, "--recipe", tmp_path / "two.json", "--pull", 1)
    _run("read", path, *said, "--json", tmp_path / "all.json")
    with pytest.raises(InputError, match="several pulls"):
        read_recipe(tmp_path / "all.json")
    for text in ("", "[]", '{"steps": 3}', '{"format": "another"}'):
        (tmp_path / "bad.json").write_text(text)
        with pytest.raises(InputError, match="no recipe"):
            read_recipe(tmp_path / "bad.json")
