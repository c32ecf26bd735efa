"""Emulsion tubes and accelerator pumps in the catalogue: offered where they are fitted, each where it acts."""

import json
from pathlib import Path

import pytest
from tests.cheap_machine import SLIDES, TUBED, TWIN, machine

from pulsewright.bench.changes import changed_text
from pulsewright.bench.setup import Setup
from pulsewright.bench.sheet import setup_from_text
from pulsewright.cli.main import run
from pulsewright.errors import InputError
from pulsewright.remedies.candidates import Machine, single_candidates
from pulsewright.remedies.catalogue import Entry, general_catalogue, read_catalogue
from pulsewright.remedies.change_rows import options_of

BOOK = general_catalogue()
SHEET = Path(__file__).parents[3] / "examples" / "narrow-twin" / "setup.toml"


def entry(name: str) -> Entry:
    found = BOOK.change(name)
    assert found is not None
    return found


def changed(name: str, own: Machine) -> dict[str, Setup]:
    return {
        o.words: setup_from_text(changed_text(own.text, o.rows), "x", lines=False)
        for o in options_of(entry(name), own.setup, BOOK)
    }


def offered(text: str) -> list[str]:
    return [name for each in single_candidates(machine(text), BOOK) for name in each.entries]


def test_a_tube_is_offered_where_the_sheet_gives_its_rows():
    assert TUBED != TWIN
    assert offered(TUBED).count("emulsion-tube") == 5  # 4 mm higher would lie above the fuel
    assert "emulsion-tube" not in offered(TWIN)
    assert "emulsion-tube" not in offered(SLIDES)


def test_every_hole_moves_and_nothing_else():
    own = machine(TUBED)
    fitted, found = own.setup.carburettors[0], changed("emulsion-tube", own)
    lower = found["emulsion tube with its holes 4 mm lower"].carburettors[0]
    assert [row.below for row in lower.emulsion_tube] == pytest.approx([7e-3, 16e-3])
    assert [row.bore for row in lower.emulsion_tube] == pytest.approx([1.0e-3, 0.8e-3])
    wider = found["emulsion tube with holes of 1.2 mm for 1 mm"].carburettors[0]
    assert [row.bore for row in wider.emulsion_tube] == pytest.approx([1.2e-3, 0.96e-3])
    assert [row.holes for row in wider.emulsion_tube] == [2, 4]
    for part in (lower, wider):
        assert (part.main_jet, part.main_air_bleed, part.nozzle_lip) == (
            fitted.main_jet, fitted.main_air_bleed, fitted.nozzle_lip,
        )  # fmt: skip


def test_each_has_its_time_price_way_back_and_note():
    for name, words in (("emulsion-tube", "main circuit begins"), ("accelerator-pump", "nothing in steady running")):
        assert entry(name).minutes > 0.0
        assert words in entry(name).note
        assert entry(name).reversible
    assert entry("emulsion-tube").cost > 0.0
    assert entry("emulsion-tube").stock == "to buy"


def test_a_pump_is_no_candidate_since_no_pull_shows_it():
    own = machine(TUBED)
    strokes = {s.carburettors[0].pump_volume: words for words, s in changed("accelerator-pump", own).items()}
    assert sorted(strokes) == pytest.approx([0.42e-6, 0.78e-6, 0.96e-6])
    assert "accelerator pump shot 0.6 cm³ to 0.78 cm³" in strokes.values()
    assert "accelerator-pump" not in offered(TUBED)
    assert changed("accelerator-pump", machine(TWIN)) == {}


def test_a_shop_may_write_tubes_of_its_own(tmp_path: Path):
    book = tmp_path / "shop.toml"
    book.write_text('format = "pulsewright catalogue 1"\n[change.emulsion-tube]\nshift = ["1 mm"]\nbores = [0.9]\n')
    own = read_catalogue(book).change("emulsion-tube")
    assert own is not None
    assert len(options_of(own, machine(TUBED).setup, BOOK)) == 2
    book.write_text('format = "pulsewright catalogue 1"\n[change.emulsion-tube]\nshift = ["90 mm"]\n')
    with pytest.raises(InputError, match="allowed: -30 mm to 30 mm"):
        read_catalogue(book)


def test_snap_tells_what_every_stroke_does(capsys: pytest.CaptureFixture[str], tmp_path: Path):
    """A larger shot stumbles less where the film is large, the way the pump's own line shows it."""
    to = tmp_path / "snap.json"
    pump = ("--set", "carburettor.1.pump_volume=0.3 cm^3", "--film-share", "0.5", "--film-time", "0.8 s")
    words = ["--store", str(tmp_path), "snap", str(SHEET), "--rpm", "2500", *pump, "--json", str(to)]
    assert run(words) == 0
    said = capsys.readouterr().out
    steps = json.loads(to.read_text(encoding="utf-8"))["pump_changes"]
    assert [s["pump_cm3"] for s in steps] == pytest.approx([0.21, 0.39, 0.48])
    (less,), (more,), (most,) = (s["stumbles_s"] for s in steps)
    assert less > steps[0]["stumbles_as_fitted_s"][0] > more >= most
    assert "accelerator pump shot 0.3 cm³ to 0.39 cm³" in said
    assert "(15 min, parts 0 EUR, can be put back)" in said
    assert "Too much bogs as too little does" in said


def test_snap_without_a_pump_has_no_stroke_to_change(capsys: pytest.CaptureFixture[str], tmp_path: Path):
    film = ("--film-share", "0.3", "--film-time", "0.4 s")
    assert run(["--store", str(tmp_path), "snap", str(SHEET), "--rpm", "3000", "--from", "50%", *film]) == 0
    assert "What the catalogue can change" not in capsys.readouterr().out
