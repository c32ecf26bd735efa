"""What a workshop changes on slide and constant velocity carburettors: offered where the part is, named rightly."""

from dataclasses import replace

import pytest
from tests.cheap_machine import SLIDES, SUCTIONS, TWIN, Model, fitted, machine, reference

from pulsewright.bench.carburettor import Carburettor, Needle
from pulsewright.bench.changes import changed_text
from pulsewright.bench.setup import Setup
from pulsewright.bench.sheet import setup_from_text
from pulsewright.cause.causes import EXHAUST_WAVE
from pulsewright.errors import InputError
from pulsewright.many.kept_rows import KeptRows
from pulsewright.remedies.candidates import setup_hash, single_candidates
from pulsewright.remedies.catalogue import general_catalogue, read_catalogue
from pulsewright.remedies.change_rows import options_of
from pulsewright.remedies.dials import dialled, dials_of
from pulsewright.remedies.ranking import FRONT, OTHER, placed
from pulsewright.remedies.reference import model_speeds
from pulsewright.remedies.search import Search
from pulsewright.remedies.trials import Trials

BOOK = general_catalogue()
NEEDLE_ENTRIES = {"needle-clip", "needle-jet", "pilot-jet", "pilot-air-bleed"}
FIXED_ENTRIES = {"intermediate-jet", "intermediate-air-bleed", "jets-in-step"}
PART_LOAD = SLIDES.replace('kind = "slide"', 'kind = "slide"\nthrottle = "30 %"')
OFF_CENTRE = SLIDES.replace('kind = "slide"', 'kind = "slide"\nneedle_clip = 4')


def offered(text: str) -> set[str]:
    return {name for each in single_candidates(machine(text), BOOK) for name in each.entries}


def changed(name: str, text: str) -> list[tuple[str, Setup]]:
    entry, own = BOOK.change(name), machine(text)
    assert entry is not None
    return [
        (o.words, setup_from_text(changed_text(own.text, o.rows), "x", lines=False))
        for o in options_of(entry, own.setup, BOOK)
    ]


def part_of(setup: Setup) -> Carburettor:
    return setup.carburettors[0]


def needle_of(setup: Setup) -> Needle:
    needle = part_of(setup).needle
    assert needle is not None
    return needle


@pytest.mark.parametrize(
    ("text", "there", "not_there"),
    [
        (TWIN, FIXED_ENTRIES, NEEDLE_ENTRIES | {"cutaway"}),
        (SLIDES, NEEDLE_ENTRIES, FIXED_ENTRIES | {"cutaway"}),  # fully up, its cutaway does nothing
        (PART_LOAD, NEEDLE_ENTRIES | {"cutaway"}, FIXED_ENTRIES),
        (SUCTIONS, NEEDLE_ENTRIES, FIXED_ENTRIES | {"cutaway"}),
    ],
)
def test_a_change_is_offered_where_its_part_is(text: str, there: set[str], not_there: set[str]):
    found = offered(text)
    assert found >= there | {"main-jet"}
    assert not found & not_there


@pytest.mark.parametrize(("text", "clips"), [(SLIDES, [1, 2, 4, 5]), (OFF_CENTRE, [2, 3, 5]), (SUCTIONS, [1, 2, 4, 5])])
def test_the_clip_stays_on_the_needle(text: str, clips: list[int]):
    found = [needle_of(setup).clip for _, setup in changed("needle-clip", text)]
    assert found == clips


def test_up_is_richer_and_says_so():
    words = dict((needle_of(s).clip, (w, needle_of(s).raised)) for w, s in changed("needle-clip", SLIDES))
    assert words[4] == ("needle up one groove, clip 3 to 4", pytest.approx(0.9e-3))
    assert words[1] == ("needle down 2 grooves, clip 3 to 1", pytest.approx(-1.8e-3))


def test_another_needle_jet_leaves_the_needle_as_it_is():
    """A sheet that does not name the needle fills it in from its jet; a workshop that swaps the jet keeps it."""
    before = needle_of(machine(SLIDES).setup)
    found = [needle_of(setup) for _, setup in changed("needle-jet", SLIDES)]
    assert [round(1e3 * n.jet, 2) for n in found] == [3.12, 3.14, 3.18, 3.20]
    assert [n.diameter for n in found] == pytest.approx([before.diameter] * 4, rel=1e-9)


def test_another_main_jet_leaves_needle_and_needle_jet_as_they_are():
    large = SLIDES.replace('main_jet = "1.70 mm"', 'main_jet = "2.15 mm"')  # 1.5 of it is more than the usual jet
    before = needle_of(machine(large).setup)
    found = [setup for _, setup in changed("main-jet", large)]
    assert len({part_of(setup).main_jet for setup in found}) == 6
    assert {needle_of(setup) for setup in found} == {before}


@pytest.mark.parametrize("text", [SLIDES, SUCTIONS, PART_LOAD])
def test_the_shop_hears_pilot_jet(text: str):
    said = [each.words for each in single_candidates(machine(text), BOOK)]
    said += [dial.title for dial in dials_of(machine(text).setup, BOOK)]
    assert any("pilot jet" in words for words in said)
    assert not any("intermediate" in words for words in said)


def test_what_rules_part_throttle_says_so():
    cautions = {c.entries[0]: " ".join(c.cautions) for c in single_candidates(machine(PART_LOAD), BOOK)}
    assert "part throttle" in cautions["needle-clip"]
    assert "first eighth" in cautions["pilot-jet"]
    assert "does nothing" in cautions["cutaway"]


@pytest.mark.parametrize("text", [SLIDES, SUCTIONS, PART_LOAD, OFF_CENTRE])
def test_dials_begin_where_the_machine_is(text: str):
    own = machine(text)
    values = {dial.name: dial.value for dial in dials_of(own.setup, BOOK)}
    assert values["needle-clip"] == needle_of(own.setup).clip
    assert setup_hash(dialled(own, values, BOOK).setup) == setup_hash(own.setup)


@pytest.mark.parametrize("text", [SLIDES, SUCTIONS])
def test_every_place_of_a_fuel_dial_is_a_machine(text: str):
    own = machine(text)
    fuel = {e.name for e in BOOK.changes if e.group == "fuel"}
    for dial in (d for d in dials_of(own.setup, BOOK) if d.name in fuel):
        for choice in dial.choices:
            made = dialled(own, {dial.name: choice}, BOOK).setup
            assert (setup_hash(made) == setup_hash(own.setup)) == (choice == dial.value), (dial.name, choice)


def test_dialled_clip_cutaway_and_needle_jet_arrive():
    own = machine(PART_LOAD)
    state = dialled(own, {"needle-clip": 5, "cutaway": 2.4e-3, "needle-jet": 3.3e-3}, BOOK)
    needle = needle_of(state.setup)
    assert needle.clip == 5
    assert part_of(state.setup).cutaway == pytest.approx(2.5e-3)  # the nearest of the kit
    assert (needle.jet, needle.diameter) == (pytest.approx(3.3e-3), pytest.approx(needle_of(own.setup).diameter))
    assert "clip 3 to 5" in state.words


def test_a_shop_says_for_which_carburettors(tmp_path):
    path = tmp_path / "shop.toml"
    head = 'format = "pulsewright catalogue 1"\n'
    path.write_text(head + '[change.needle-clip]\ncarburettors = ["slide"]\nby = [1]\n', encoding="utf-8")
    own = read_catalogue(path).change("needle-clip")
    assert own is not None
    assert len(options_of(own, machine(SLIDES).setup, BOOK)) == 1
    assert options_of(own, machine(SUCTIONS).setup, BOOK) == []
    path.write_text(head + '[change.needle-clip]\ncarburettors = ["slid"]\n', encoding="utf-8")
    with pytest.raises(InputError, match="slid"):
        read_catalogue(path)


def test_a_search_on_a_slide_machine_ranks_needle_and_pilot_by_what_they_do_in_the_pulls():
    """The stand-in model knows no needle: what does nothing there gains nothing, and is not put before the cure."""
    book = replace(
        BOOK, changes=tuple(e for e in BOOK.changes if e.name in ("plate", "needle-clip", "pilot-jet", "cutaway"))
    )
    ref = reference()
    trials = Trials(machine=fitted(), speeds=model_speeds(ref), compute=Model(), stopped=lambda: False, keep=KeptRows())
    found = placed(
        Search(
            machine=machine(SLIDES), reference=ref, catalogue=book, first=trials, final=trials, verdict=EXHAUST_WAVE,
            most=30,
        ).run(),
        EXHAUST_WAVE,
    )  # fmt: skip
    singles = [j for j in found if len(j.candidate.options) == 1]
    standings = {j.candidate.entries[0]: j.standing for j in singles}
    assert standings["plate"] == FRONT
    assert standings["needle-clip"] == standings["pilot-jet"] == OTHER
    assert all(j.forecast.gain.value == pytest.approx(0.0) for j in singles if j.candidate.entries[0] != "plate")
    assert "cutaway" not in standings
    assert found[0].candidate.entries[0] == "plate"
