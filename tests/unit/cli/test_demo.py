"""The demo command, run whole once on the real model: everything is there, and nothing is fetched."""

import json
import re
from pathlib import Path
from typing import Any

import pytest

from pulsewright.cli.main import run


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("demo") / "day"


@pytest.fixture(scope="module")
def answer(folder: Path) -> dict[str, Any]:
    """What `--json` wrote after a whole run."""
    written = folder.parent / "answer.json"
    assert run(["demo", "-o", str(folder), "--json", str(written)]) == 0
    return json.loads(written.read_text(encoding="utf-8"))


def test_the_hole_is_a_wave(answer: dict[str, Any]):
    explanation = answer["explanation"]
    assert answer["format"] == "pulsewright demo 1"
    assert answer["invented"] is True
    assert explanation["verdict"] == "exhaust wave"
    assert explanation["hole"]["repeats"] is True
    shares = {each["cause"]: each["share"] for each in explanation["shares"]}
    assert shares["exhaust wave"] > 0.6


def test_two_steps_leaner_are_found_dangerous(answer: dict[str, Any]):
    red = [note["setup"] for note in answer["explanation"]["safety"] if note["level"] == "red"]
    assert red == ["B"]


def test_everything_was_written_where_it_says(answer: dict[str, Any], folder: Path):
    assert Path(answer["report"]) == folder / "report.html"
    assert [Path(each).name for each in answer["pictures"]] == ["echo.svg", "echo.html"]
    for path in (answer["report"], *answer["pictures"]):
        assert Path(path).stat().st_size > 10_000


def test_the_report_is_for_the_customer_and_needs_nothing_else(answer: dict[str, Any]):
    page = Path(answer["report"]).read_text(encoding="utf-8")
    assert "Invented example" in page
    assert "Quarterlight &amp; Thrum" in page
    assert "echo in the exhaust pipe" in page
    assert page.count("not safe as it is") == 1  # two steps leaner gives torque, and is too lean on top
    assert page.count("<svg") >= 4
    fetched = re.findall(r"""(?:src|href)\s*=\s*["'](?!#|data:)|url\((?!["']?(?:#|data:))|@import""", page)
    assert not fetched
    addresses = set(re.findall(r"https?://[^\s\"'<>)]+", page))
    assert addresses <= {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}  # names, not places


def test_a_strange_folder_is_refused_in_words(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    (tmp_path / "diary.txt").write_text("mine")
    assert run(["demo", "-o", str(tmp_path)]) == 4
    said = capsys.readouterr()
    assert "not this demo" in said.err
    assert not said.out
    assert [path.name for path in tmp_path.iterdir()] == ["diary.txt"]
