"""What a setup changed, in the words of the shop."""

import pytest
from tests.cheap_machine import TWIN

from pulsewright.bench.change_words import NOTHING, changes_in_words
from pulsewright.bench.describe import describe
from pulsewright.bench.session import SessionSetup
from pulsewright.bench.setup import Setup
from pulsewright.bench.sheet import setup_from_text


def sheet(kind: str) -> Setup:
    return setup_from_text(TWIN.replace("fixed venturi", kind), "test")


def in_words(kind: str, *changes: tuple[str, object]) -> str:
    setup = SessionSetup(name="B", setup=sheet(kind), changes=changes, note="", based_on="A", text="")
    return changes_in_words(setup)


@pytest.mark.parametrize(
    ("kind", "path", "value", "words"),
    [
        ("slide", "intermediate_jet", "0.45 mm", "pilot jet 0.45 mm"),
        ("constant velocity", "intermediate_jet", "0.45 mm", "pilot jet 0.45 mm"),
        ("slide", "intermediate_air_bleed", "1.1 mm", "pilot air bleed 1.1 mm"),
        ("fixed venturi", "intermediate_jet", "0.45 mm", "intermediate jet 0.45 mm"),
        ("slide", "needle_clip", 4, "needle clip in groove 4"),
        ("slide", "cutaway", "2.5 mm", "cutaway 2.5 mm"),
        ("slide", "main_jet", "1.5 mm", "main jet 1.5 mm"),
    ],
)
def test_a_part_has_the_name_of_its_kind(kind: str, path: str, value: object, words: str):
    assert in_words(kind, (f"carburettor.1.{path}", value)) == words


def test_no_change_has_words():
    assert in_words("slide") == NOTHING


def test_the_sheet_in_words_names_pilot_and_groove():
    slide = dict(describe(sheet("slide")))["carburettor 1"]
    assert "pilot 0.9 mm" in slide
    assert "clip in groove 3" in slide
    assert "intermediate" not in slide
    assert "intermediate 0.9 mm" in dict(describe(sheet("fixed venturi")))["carburettor 1"]
