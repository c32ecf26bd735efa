"""`pulsewright pulls`: what it prints and its JSON."""

import json

import pytest
from click.testing import CliRunner
from tests.pull_logs import Log, day, smooth_torque, with_dip, write_log, write_session

from pulsewright.cli.pulls import command
from pulsewright.errors import InputError, UsageError


def _run(*arguments: object):
    return CliRunner().invoke(command, [str(a) for a in arguments], catch_exceptions=False)


@pytest.fixture
def session(tmp_path):
    log = Log(torque=with_dip(smooth_torque, 3300.0, 0.15, 700.0))
    return write_session(tmp_path / "s", [(s, each.columns()) for s, each in day("AAA", log=log)])


def test_read_shows_every_column_with_its_reason(tmp_path):
    path = write_log(tmp_path / "a.csv", Log().columns())
    told = _run("read", path)
    assert told.exit_code == 0
    assert "separated by comma" in told.stdout
    assert "reads as engine speed" in told.stdout
    data = json.loads(_run("read", path, "--json").stdout)
    assert data["format"] == "pulsewright pull 1"
    assert [c["quantity"] for c in data["channels"]] == [
        "time",
        "engine_speed",
        "roller_speed",
        "torque",
        "lambda",
    ]


def test_read_takes_what_the_user_confirms(tmp_path):
    path = tmp_path / "a.csv"
    rows = [f"{1800 + 20 * k};{50 - k / 9:.2f}" for k in range(100)]
    path.write_text("rpm;torque\n" + "\n".join(rows) + "\n")
    with pytest.raises(InputError, match="no unit"):
        _run("read", path)
    assert _run("read", path, "--as", "torque=Nm").exit_code == 0
    assert "lbf ft" in _run("read", path, "--as", "torque=lb-ft").stdout
    with pytest.raises(UsageError):
        _run("read", path, "--as", "torque")


def test_holes_and_list_agree(session):
    data = json.loads(_run("holes", session, "--json", "-").stdout)
    assert data["format"] == "pulsewright holes 1"
    assert data["hole"]["rpm_bottom"] == pytest.approx(3290, abs=60)
    assert data["hole"]["repeats"] is True
    listed = json.loads(_run("list", session, "--json").stdout)
    assert listed["hole"] == data["hole"]
    assert [pull["number"] for pull in listed["pulls"]] == [1, 2, 3]
    assert all(0.002 < pull["lambda_sd"] < 0.05 for pull in listed["pulls"])
    assert listed["lambda_lag_doubt"]["lag_sd_s"] > 0.02  # one rate does not show it
    assert "hole from" in _run("holes", session).stdout
    assert "01.csv" in _run("list", session).stdout
