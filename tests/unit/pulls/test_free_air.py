"""A sensor in clean air, and a fuel that must be named."""

import json

import numpy as np
import pytest
from click.testing import CliRunner
from tests.pull_logs import Log, write_log

from pulsewright.cli.pulls import command
from pulsewright.errors import InputError
from pulsewright.pulls.free_air import free_air_check
from pulsewright.pulls.read_pull import read_pull
from pulsewright.pulls.reading import Reading

TIME = np.arange(0.0, 30.0, 0.1)


def _log(path, heading, values):
    rows = zip(TIME, np.broadcast_to(values, TIME.shape), strict=True)
    path.write_text(f"time (s);{heading}\n" + "".join(f"{t:.1f};{v:.3f}\n" for t, v in rows))
    return path


@pytest.mark.parametrize(
    ("heading", "value", "sound"),
    [
        ("O2 (%)", 20.9, True),  # dry air holds 20.95 % oxygen (US Standard Atmosphere 1976)
        ("O2 (%)", 20.2, True),  # as humid as it gets
        ("O2 (%)", 18.7, False),
        ("lambda", 1.6, True),  # the end of a scale: common practice, no published source
        ("lambda", 1.12, False),
        ("AFR", 22.0, True),
        ("AFR", 16.0, False),
    ],
)
def test_a_sensor_that_does_not_know_clean_air_is_found(tmp_path, heading, value, sound):
    (found,) = free_air_check(_log(tmp_path / "a.csv", heading, value))
    assert found.passes == sound
    assert heading in found.text


def test_a_reading_that_wanders_and_one_too_short_are_no_proof(tmp_path):
    (found,) = free_air_check(_log(tmp_path / "a.csv", "O2 (%)", 20.9 - 1.5 * np.exp(-TIME / 10.0)))
    assert not found.passes
    assert "wanders" in found.text
    (tmp_path / "b.csv").write_text("time (s);lambda\n" + "".join(f"{k / 10};1.600\n" for k in range(9)))
    assert "9 readings" in free_air_check(tmp_path / "b.csv")[0].text
    with pytest.raises(InputError, match="no column reads as lambda"):
        free_air_check(_log(tmp_path / "c.csv", "rpm", 0.0))


def test_the_command_tells_by_its_exit_code(tmp_path):
    good, bad = _log(tmp_path / "a.csv", "lambda", 1.6), _log(tmp_path / "b.csv", "lambda", 1.1)
    told = CliRunner().invoke(command, ["read", str(good), "--free-air"])
    assert told.exit_code == 0
    assert told.stdout.startswith("sound: ")
    told = CliRunner().invoke(command, ["read", str(bad), "--free-air", "--json"])
    assert told.exit_code == 1
    assert json.loads(told.stdout)["sensors"][0]["passes"] is False


def test_the_fuel_is_asked_for_where_an_air_fuel_ratio_is_read_without_it(tmp_path):
    columns = Log().columns()
    text = write_log(tmp_path / "a.csv", columns | {"lambda": columns["lambda"] * 14.7}).read_text()
    path = tmp_path / "a.csv"
    path.write_text(text.replace(",lambda\n", ",AFR\n"))
    asked = read_pull(path)
    assert any("which fuel" in question.text for question in asked.questions)
    named = read_pull(path, reading=Reading(fuel="petrol"))
    assert not named.questions
    assert "petrol" in next(c.reason for c in named.channels if c.quantity == "lambda")
    np.testing.assert_array_equal(asked.mixture, named.mixture)
    told = CliRunner().invoke(command, ["read", str(path), "--afr", "14.7", "--json"])
    assert not json.loads(told.stdout)["questions"]
