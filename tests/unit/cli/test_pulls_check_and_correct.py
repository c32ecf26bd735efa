"""`pulsewright pulls check` and `correct`: findings pull by pull, curves in one form only."""

import csv
import hashlib
import json
from importlib.resources import files

import numpy as np
import pytest
from click.testing import CliRunner
from tests.pull_logs import Log, day, write_log, write_session

from pulsewright.cli.pulls import command
from pulsewright.cli.pulls_check import in_ranges
from pulsewright.errors import InputError, UsageError
from pulsewright.pulls.finding import KINDS, odds_in_words
from pulsewright.pulls.limits import LIMITS
from pulsewright.pulls.read_pull import read_pull


def _run(*arguments: object):
    return CliRunner().invoke(command, [str(a) for a in arguments], catch_exceptions=False)


@pytest.fixture
def session(tmp_path):
    pulls = [(s, log.columns()) for s, log in day("AAA")]
    pulls[1][1]["rpm"][20:200:6] *= 2.0  # pull 2 lost its clamp
    return write_session(tmp_path / "s", pulls)


def test_check_gives_each_pull_its_own_findings(session):
    data = json.loads(_run("check", session, "--json").stdout)
    assert data["format"] == "pulsewright pull check 1"
    assert [[f["kind"] for f in pull["findings"]] for pull in data["pulls"]] == [[], ["pick-up"], []]
    finding = data["pulls"][1]["findings"][0]
    assert "30 of" in finding["evidence"]
    assert 0.0 < finding["strength"] <= 3.0
    assert [c["quantity"] for c in data["pulls"][0]["channels"]][:2] == ["time", "engine_speed"]
    assert {limit["kind"] for limit in data["limits"]} == set(KINDS)
    assert all(limit["why"] for limit in data["limits"])
    assert data["limits_changed"] == []
    told = _run("check", session).stdout
    assert told.startswith("3 pulls of A: 1 finding\n  pull 2 (A, 02.csv): pick-up, ")
    assert " to 1\n      engine speed dropped" in told
    assert "nothing found in pulls 1, 3 alone" in told
    assert "limits: the usual ones" in told


def test_own_limits_are_used_and_said(tmp_path, session):
    mine = tmp_path / "limits.toml"
    assert _run("limits", "-o", mine).exit_code == 0
    mine.write_text(mine.read_text().replace('pickup_share = "5 %"', 'pickup_share = "30 %"'))
    told = _run("check", session, "--limits", mine).stdout
    assert told.startswith("3 pulls of A: nothing found")
    assert f"limits: 1 not the usual ({mine}): pickup_share 30 % instead of 5 %" in told
    data = json.loads(_run("check", session, "--limits", mine, "--json").stdout)
    assert (data["limits_changed"], data["limits_from"]) == (["pickup_share"], str(mine))
    limit = next(each for each in data["limits"] if each["name"] == "pickup_share")
    assert (limit["value"], limit["usual"]) == (0.3, 0.05)


def test_limits_of_the_session_hold_without_being_named_again(tmp_path):
    pulls = [(s, log.columns()) for s, log in day("AA")]
    folder = write_session(tmp_path / "s", pulls, more='limits = "shop.toml"')
    (folder / "shop.toml").write_text('format = "pulsewright limits 1"\nfewest_pulls = 2\n')
    told = _run("check", folder).stdout
    assert "nothing found" in told
    assert "fewest_pulls 2 instead of 3" in told


def test_limits_are_printed_with_their_reasons_and_as_json():
    told = _run("limits").stdout
    assert 'slip = "1 %"' in told
    assert told.count("# why: ") == len(LIMITS)
    data = json.loads(_run("limits", "--json").stdout)
    assert {each["name"] for each in data["limits"]} == set(LIMITS)


def test_pull_numbers_are_said_as_people_do():
    assert in_ranges([4]) == "pull 4"
    assert in_ranges([3, 1, 2, 4, 7, 9, 10]) == "pulls 1 to 4, 7, 9, 10"


def test_odds_are_said_in_words():
    assert odds_in_words(0.0) == "about even"
    assert odds_in_words(0.3) == "about 2.0 to 1"
    assert odds_in_words(1.0) == "about 10 to 1"
    assert odds_in_words(3.0) == "1000 to 1 or more"


# The worked examples come from the reference table, whose sources its README names: J1349 and DIN from
# secondary pages, ISO 1585 from memory.
COLUMN = {"j1349": "J1349_cf_ME85", "iso1585": "ISO1585_R85_alpha", "std": "STD_60F_29.92inHg",
          "din70020": "DIN70020"}  # fmt: skip


@pytest.mark.parametrize("standard", sorted(COLUMN))
def test_factor_of_the_worked_examples_reaches_the_curve(tmp_path, standard):
    table = files("pulsewright.outside") / "data" / "dyno_correction.csv"
    rows = list(csv.DictReader(table.read_text(encoding="utf-8").splitlines()))
    path = write_log(tmp_path / "a.csv", Log().columns())
    raw = read_pull(path)
    for row in rows[:: max(1, len(rows) // 4)]:
        air = f"{row['t_C']} degC; {row['p_baro_Pa']} Pa; {float(row['rh'])}"
        data = json.loads(_run("correct", path, "--standard", standard, "--air", air, "--json").stdout)
        pull = data["pulls"][0]
        assert pull["factor"] == pytest.approx(float(row[COLUMN[standard]]), rel=3e-4)
        ratio = np.array(pull["torque_nm"]) / raw.torque
        np.testing.assert_allclose(ratio, pull["factor"], rtol=1e-12)


def test_written_curves_read_back_and_raw_files_stay(tmp_path, session):
    raw = session / "pulls" / "01.csv"
    before = hashlib.sha256(raw.read_bytes()).hexdigest()
    out = tmp_path / "out"
    told = _run("correct", session, "--standard", "iso1585", "-o", out)
    assert told.exit_code == 0
    assert "No factor corrects the mixture" in told.stderr
    assert sorted(p.name for p in out.iterdir()) == [f"0{n}-0{n}-iso1585.csv" for n in (1, 2, 3)]
    text = (out / "01-01-iso1585.csv").read_text()
    assert before in text
    assert hashlib.sha256(raw.read_bytes()).hexdigest() == before
    factor = json.loads(_run("correct", session, "--standard", "iso1585", "--json").stdout)["pulls"][0]["factor"]
    again, first = read_pull(out / "01-01-iso1585.csv"), read_pull(raw)
    np.testing.assert_allclose(again.torque, first.torque * factor, atol=1e-4)
    assert any("corrected for weather" in q.text for q in again.questions)


def test_two_forms_never_stand_in_one_folder(tmp_path, session):
    out = tmp_path / "out"
    _run("correct", session, "--standard", "j1349", "-o", out)
    with pytest.raises(UsageError, match="never two forms"):
        _run("correct", session, "--standard", "std", "-o", out)
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "01-01-std.csv").write_text("my own notes\n")
    with pytest.raises(UsageError, match="no corrected curve"):
        _run("correct", session, "--standard", "std", "-o", tmp_path / "mine")


def test_a_curve_is_not_corrected_twice(tmp_path, session):
    _run("correct", session, "--standard", "j1349", "-o", tmp_path / "out")
    again = tmp_path / "out" / "01-01-j1349.csv"
    with pytest.raises(InputError, match="corrected already"):
        _run("correct", again, "--standard", "std", "--air", "24 degC, 99 kPa")


def test_unknown_air_is_refused_but_for_raw(tmp_path):
    path = write_log(tmp_path / "a.csv", Log().columns())
    with pytest.raises(InputError, match="needs the air"):
        _run("correct", path, "--standard", "j1349")
    assert "torque (Nm)" in _run("correct", path, "--standard", "raw").stdout
    with pytest.raises(UsageError, match="is no air"):
        _run("correct", path, "--standard", "j1349", "--air", "hot")


def test_limits_are_said_when_left(tmp_path):
    path = write_log(tmp_path / "a.csv", Log().columns())
    told = _run("correct", path, "--standard", "j1349", "--air", "40,5 degC, 85,0 kPa, 30 %")
    assert "outside 15 to 35 degC" in told.stderr
    assert "outside 90 to 105 kPa" in told.stderr
    assert "outside 15 to 35 degC" in told.stdout  # and in the file itself
