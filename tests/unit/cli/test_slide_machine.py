"""Cause and advice on a machine with a slide carburettor: all runs through, in the words of the shop.

The pulls are those of the invented day, which had a fixed venturi: what is found is no finding about a slide.
"""

import json
import shutil
from pathlib import Path

import pytest
from tests.session_maker import session_maker

from pulsewright.cli.main import run
from pulsewright.remedies.catalogue import general_catalogue

LOOKED_AT = ("needle-clip", "pilot-jet", "cutaway")
SLIDE = (
    ('kind = "fixed venturi"', 'kind = "slide"'),
    ('main_nozzle = "4.0 mm"\n', ""),
    ('main_air_bleed = "1.10 mm"', 'main_air_bleed = "0.50 mm"'),
    ('intermediate_jet = "0.80 mm"', 'intermediate_jet = "0.60 mm"'),
)


@pytest.fixture(scope="module")
def day(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("slide") / "day"
    shutil.copytree(session_maker().SESSION, folder)
    sheet = folder / "setup.toml"
    text = sheet.read_text(encoding="utf-8")
    for old, new in SLIDE:
        assert old in text
        text = text.replace(old, new)
    sheet.write_text(text, encoding="utf-8")
    return folder


@pytest.fixture
def catalogue(tmp_path: Path) -> Path:
    """One option of each change of the needle's circuits, and nothing else."""
    others = [e.name for e in general_catalogue().changes if e.name not in LOOKED_AT]
    lines = ['format = "pulsewright catalogue 1"', *(f"[change.{name}]\nuse = false" for name in others)]
    lines += ["[change.needle-clip]\nby = [1]", "[change.pilot-jet]\nmost = 1"]
    path = tmp_path / "shop.toml"
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


@pytest.mark.slow
def test_cause_and_advice_run_through_and_say_pilot_jet(
    day: Path, catalogue: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    to = tmp_path / "advice.json"
    words = ["--store", str(tmp_path / "store"), "advise", str(day), "--no-fit", "--quiet"]
    words += ["--catalogue", str(catalogue), "--candidates", "6", "--json", str(to)]
    assert run(words) == 0
    said = capsys.readouterr().out
    assert "needle up one groove, clip 3 to 4" in said
    assert "pilot jet 0.6 mm to" in said
    assert "intermediate" not in said
    assert "cutaway" not in said
    assert json.loads(to.read_text(encoding="utf-8"))["format"] == "pulsewright advice 1"
