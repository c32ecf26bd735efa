"""The whole job on an invented day with a slide carburettor, and on one with constant velocity: each word as typed.

INVENTED: no such machine or day exists. The pulls are our own model's, of a machine that is not quite the one on the
sheet, with the habits of a dyno (`examples/make_demo_session.py`), so nothing here says that the model is right.
The sheet names the main jet and leaves the needle's sizes to what is usual.
"""

import json
from pathlib import Path
from typing import Any

import pytest
from tests.session_maker import session_maker

from pulsewright.cli.main import run
from pulsewright.remedies.catalogue import general_catalogue

OWN = ("main_air_bleed", "main_nozzle", "intermediate_jet", "intermediate_air_bleed")
SPEEDS = range(1600, 5801, 300)
pytestmark = pytest.mark.slow


def sheet_of(kind: str) -> str:
    """The sheet of the demo with another carburettor."""
    lines = (session_maker().SESSION / "setup.toml").read_text(encoding="utf-8").splitlines()
    text = "\n".join(line for line in lines if not line.startswith(OWN)) + "\n"
    for old, new in (('kind = "fixed venturi"', f'kind = "{kind}"'), ('main_jet = "1.95 mm"', 'main_jet = "2.15 mm"')):
        assert old in text
        text = text.replace(old, new)
    return text


@pytest.fixture(scope="module", params=["slide", "constant velocity"])
def day(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three pulls, three with a leaner main jet, one more of the first."""
    maker = session_maker()
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(maker, "CHANGES", {"A": [], "B": [("carburettor.1.main_jet", "2.00 mm")]})
        patched.setattr(maker, "NOTES", {"A": "as it came (invented)", "B": "main jet leaner (invented)"})
        folder = tmp_path_factory.mktemp("needle") / request.param.replace(" ", "-")
        return maker.make(folder, sheet=sheet_of(request.param), day="AAABBBA", speeds=SPEEDS)


@pytest.fixture
def typed(day: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    """Runs a command on the day's session or sheet; what it said, and what it wrote as JSON."""

    def call(*words: str, json_too: bool = True) -> tuple[str, Any]:
        to = tmp_path / "answer.json"
        rest = ["--json", str(to)] if json_too else []
        assert run(["--store", str(tmp_path / "store"), *words, *rest]) == 0
        return capsys.readouterr().out, json.loads(to.read_text(encoding="utf-8")) if json_too else None

    return call


def test_the_pulls_are_read_and_nothing_is_wrong_with_them(day: Path, typed):
    _, data = typed("pulls", "check", str(day))
    assert data["findings"] == []
    said, _ = typed("pulls", "compare", str(day), "A", "B", json_too=False)
    assert "torque" in said


def test_predict_and_set_move_the_part_that_is_named(day: Path, typed):
    sheet = str(day / "setup.toml")
    rpm = ("--rpm", "2500,4000")
    _, before = typed("predict", sheet, *rpm)
    said, leaner = typed("predict", sheet, *rpm, "--set", "carburettor.1.main_jet=2.00 mm")
    _, up = typed("predict", sheet, *rpm, "--set", "carburettor.1.needle_clip=4")
    assumed = [{a["key"]: a["value"] for a in each["assumptions"]} for each in (before, leaner)]
    assert assumed[0] == assumed[1]
    assert assumed[0]["carburettor.1.needle_jet"] in said
    for n in range(2):
        assert leaner["lambda_trapped"][n] > 1.03 * before["lambda_trapped"][n]
        assert up["lambda_trapped"][n] < before["lambda_trapped"][n]


def test_rejet_names_the_jets_and_says_what_the_needle_does(day: Path, typed):
    said, data = typed("rejet", str(day / "setup.toml"), "--altitude", "1500 m", "--rpm", "3000,4500")
    assert set(data["jets_mm"]) == {"carburettor.1.main_jet", "carburettor.1.intermediate_jet"}
    assert data["area_ratio"]["model"] < 1.0
    assert "ring round the needle stays" in said
    assert "fixed venturi" not in said


def test_explain_and_report_speak_of_this_carburettor(day: Path, typed, tmp_path: Path):
    said, _ = typed("explain", str(day), "--no-fit", json_too=False)
    assert said.startswith("Verdict: ")
    verdict = said.removeprefix("Verdict: ").partition(" (")[0]
    page = tmp_path / "report.html"
    typed("report", str(day), "--no-fit", "-o", str(page), json_too=False)
    text = page.read_text(encoding="utf-8")
    assert verdict in text
    assert "fixed venturi" not in text
    assert "main jet 2.00 mm" in text
    assert "needle_jet" in text  # among what had to be assumed


def test_advise_offers_needle_and_pilot(day: Path, typed, tmp_path: Path):
    looked_at = ("needle-clip", "pilot-jet", "main-jet")
    lines = ['format = "pulsewright catalogue 1"']
    lines += [f"[change.{e.name}]\nuse = false" for e in general_catalogue().changes if e.name not in looked_at]
    lines += ["[change.needle-clip]\nby = [1]", "[change.pilot-jet]\nmost = 1", "[change.main-jet]\nmost = 1"]
    book = tmp_path / "shop.toml"
    book.write_text("\n".join(lines), encoding="utf-8")
    said, _ = typed("advise", str(day), "--no-fit", "--catalogue", str(book), "--candidates", "6")
    assert "needle up one groove, clip 3 to 4" in said
    assert "intermediate" not in said
