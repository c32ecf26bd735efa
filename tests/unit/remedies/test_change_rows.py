"""Catalogue entries as rows on a sheet: they fit, they do what their words say, and nothing else moves."""

from dataclasses import replace

import pytest
from tests.cheap_machine import SLIDES, SUCTIONS, TUBED, TWIN, machine

from pulsewright.bench.changes import changed_text
from pulsewright.bench.exhaust import Join, Muffler, Pipe, Plate
from pulsewright.bench.sheet import setup_from_text
from pulsewright.physics.obstacle_losses import plate_blocked_fraction
from pulsewright.remedies.candidates import pair, sensible_pair, setup_hash, single_candidates
from pulsewright.remedies.catalogue import KINDS, general_catalogue
from pulsewright.remedies.change_rows import options_of
from pulsewright.remedies.piece_tables import piece_tables

BOOK = general_catalogue()
MUFFLED = TWIN.replace(
    '{ piece = "end", kind = "open" }',
    '{ piece = "muffler", body_length = "300 mm", body_bore = "90 mm", core_bore = "36 mm", core = "baffled" }, '
    '{ piece = "end", kind = "open" }',
)
PLATED = TWIN.replace(
    '{ piece = "end", kind = "open" }', '{ piece = "plate", width = "14 mm" }, { piece = "end", kind = "open" }'
)
WORN = MUFFLED.replace('core = "baffled"', 'core = "perforated packed", packing = "aged"')
FILTERED = TWIN.replace('mouth = "open"', 'mouth = "filter"\nloss = 2.0')


def of(name: str, text: str = TWIN):
    entry = BOOK.change(name)
    assert entry is not None
    own = machine(text)
    return [
        (o, setup_from_text(changed_text(own.text, o.rows), "x", lines=False))
        for o in options_of(entry, own.setup, BOOK)
    ]


def test_every_kind_finds_a_machine_that_takes_it():
    found = {
        e.kind
        for text in (TWIN, PLATED, FILTERED, WORN, SLIDES, TUBED)
        for e in BOOK.changes
        if options_of(e, machine(text).setup, BOOK)
    }
    assert found == set(KINDS)


@pytest.mark.parametrize("text", [TWIN, MUFFLED, PLATED, FILTERED, SLIDES, SUCTIONS])
def test_every_option_changes_its_own_part_of_the_sheet_only(text: str):
    own = machine(text)
    singles = single_candidates(own, BOOK)
    assert len(singles) > 15
    for each in singles:
        parts = ("exhaust", "carburettors", "intake", "ignition")
        moved = {part for part in parts if getattr(each.setup, part) != getattr(own.setup, part)}
        group = min(each.groups)
        assert moved == {"carburettors" if group == "fuel" else group}, each.words
        assert each.setup.engine == own.setup.engine


def test_the_plate_blocks_what_it_says():
    blocked = []
    for _, setup in of("plate"):
        plate = setup.exhaust.route[2][-2]
        assert isinstance(plate, Plate)
        blocked.append(plate_blocked_fraction(plate.width / 0.043, plate.angle_deg))
    assert blocked == pytest.approx([0.10, 0.25, 0.40, 0.55], abs=0.003)


def test_a_longer_pipe_is_longer_by_that_much():
    lengths = [sum(p.length for p in s.exhaust.route[1] if isinstance(p, Pipe)) for _, s in of("slip-on-length")]
    assert lengths == pytest.approx([1.02, 1.07, 1.12, 1.22])


def test_a_muffler_takes_the_place_of_as_much_pipe():
    for option, setup in of("muffler"):
        pipe, muffler = setup.exhaust.route[1][:2]
        assert isinstance(pipe, Pipe)
        assert isinstance(muffler, Muffler)
        assert pipe.length + muffler.body_length == pytest.approx(0.92), option.words


def test_a_collector_joins_both_pipes():
    for _, setup in of("collector"):
        assert all(isinstance(route[-1], Join) for route in setup.exhaust.route.values())
        assert len(setup.exhaust.after["collector 1"]) == 2


def test_jets_go_by_the_sizes_of_the_kit():
    sizes = [setup.carburettors[0].main_jet for _, setup in of("main-jet")]
    assert sizes == pytest.approx([1.85e-3, 1.90e-3, 1.95e-3, 2.05e-3, 2.10e-3, 2.15e-3])
    both = [(s.carburettors[0].main_jet, s.carburettors[0].intermediate_jet) for _, s in of("jets-in-step")]
    assert both[3] == pytest.approx((1.95e-3, 0.85e-3))  # one size of each kit down


def test_a_worn_muffler_is_packed_anew_and_a_fresh_one_is_left_alone():
    for _, setup in of("repack", WORN):
        assert [p.packing for p in setup.exhaust.route[1] if isinstance(p, Muffler)] == ["new"]
    assert len(list(of("repack", WORN))) == 1
    assert not list(of("repack", WORN.replace('"aged"', '"new"')))
    assert not list(of("repack", MUFFLED))


def test_nothing_is_pushed_into_a_muffler_and_no_single_gets_a_collector():
    single = TWIN.replace("cylinders = 2", "cylinders = 1").replace("[0, 412]", "[0]").replace("[1, 2]", "[1]")
    single = single.replace(next(line for line in TWIN.splitlines() if line.startswith("route.2")), "")
    assert not of("collector", single)
    assert not of("crossover", single)
    assert not of("plate", MUFFLED)
    assert not of("slip-on-length", MUFFLED)


def test_a_pipe_shorter_than_to_its_sensor_is_no_candidate():
    near_end = TWIN.replace('"300 mm"\n', '"800 mm"\n')
    words = [c.words for c in single_candidates(machine(near_end), BOOK)]
    assert not any("200 mm shorter" in w for w in words)
    assert any("200 mm shorter" in c.words for c in single_candidates(machine(), BOOK))


def test_pairs_are_of_different_groups_and_do_both():
    own = machine()
    singles = {c.words: c for c in single_candidates(own, BOOK)}
    plate = next(c for w, c in singles.items() if w.startswith("plate that blocks 25"))
    jet = next(c for w, c in singles.items() if w.startswith("main jet 2 mm to 2.05"))
    other = next(c for w, c in singles.items() if w.startswith("8 mm bolt"))
    assert sensible_pair(plate, jet)
    assert not sensible_pair(plate, other)
    both = pair(own, plate, jet)
    assert both is not None
    assert both.setup.exhaust == plate.setup.exhaust
    assert both.setup.carburettors == jet.setup.carburettors
    assert both.minutes == plate.minutes + jet.minutes


def test_routes_written_as_tables_read_back_the_same():
    for each in single_candidates(machine(), BOOK):
        for number, route in each.setup.exhaust.route.items():
            rows = [(f"exhaust.after.{n}", piece_tables(r)) for n, r in each.setup.exhaust.after.items()]
            again = setup_from_text(
                changed_text(each.text, [*rows, (f"exhaust.route.{number}", piece_tables(route))]), "x", lines=False
            )
            assert again.exhaust == each.setup.exhaust, each.words


def test_one_machine_has_one_hash_however_it_is_written():
    own = machine()
    assert setup_hash(machine(TWIN.replace('"43 mm"', '"0.043 m"')).setup) == setup_hash(own.setup)
    assert setup_hash(replace(own.setup, name="other", assumptions=())) == setup_hash(own.setup)
    assert setup_hash(machine(TWIN.replace('"43 mm"', '"43.1 mm"')).setup) != setup_hash(own.setup)
