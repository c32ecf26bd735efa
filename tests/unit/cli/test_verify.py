"""`pulsewright verify` shows every comparison and says by its exit code whether one failed."""

import json

import pytest

from pulsewright.cli.main import run
from pulsewright.outside import groups
from pulsewright.outside.check import Check

BAD = Check(what="a thing", source="a book", expected=1.0, got=2.0, tolerance=0.1)


def test_json_has_what_a_program_needs(capsys: pytest.CaptureFixture[str]):
    assert run(["verify", "--only", "weather", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["format"] == "pulsewright verification 1"
    assert answer["passed"] is True
    assert {"group", "what", "source", "expected", "got", "tolerance", "kind", "pass"} <= set(answer["checks"][0])


def test_a_failed_check_is_seen_and_exits_1(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(groups, "checks_of", lambda _: [BAD])
    assert run(["verify", "--only", "weather"]) == 1
    shown = capsys.readouterr().out
    assert "a thing" in shown
    assert "NO" in shown
    assert "1 checks, 1 failed" in shown
    assert run(["verify", "--only", "weather", "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["failed"] == 1


def test_an_unknown_group_is_usage(capsys: pytest.CaptureFixture[str]):
    assert run(["verify", "--only", "wether"]) == 2
    assert "weather" in capsys.readouterr().err


def test_the_groups_can_be_listed(capsys: pytest.CaptureFixture[str]):
    assert run(["verify", "--list"]) == 0
    assert capsys.readouterr().out.split() == list(groups.GROUPS)
