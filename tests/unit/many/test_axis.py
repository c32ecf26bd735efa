"""What --vary takes: paths and units of the sheet, ends, counts."""

from pathlib import Path

import numpy as np
import pytest

from pulsewright.bench.changes import changed_text
from pulsewright.bench.sheet import setup_from_text
from pulsewright.errors import InputError, UsageError
from pulsewright.many.axis import parse_vary

SHEET = (Path(__file__).parents[3] / "examples" / "narrow-twin" / "setup.toml").read_text(encoding="utf-8")


def axis(text: str):
    return parse_vary(text, SHEET, "twin.toml")


@pytest.mark.parametrize(
    ("text", "values", "written"),
    [
        ("exhaust.route.1.1.length=800 mm:1000 mm:3", [800, 900, 1000], "900 mm"),
        ("exhaust.route.1.1.length=800:1000 mm:3", [800, 900, 1000], "900 mm"),
        ("exhaust.route.1.1.length=31 1/2 in:32,5 in:3", [31.5, 32, 32.5], "32 in"),
        ("engine.intake_valve.closes=40 deg ABDC:60 deg ABDC:3", [40, 50, 60], "50 deg ABDC"),
        ("engine.compression_ratio=8:10:3", [8, 9, 10], "9"),
        ("carburettor.1.main_jet=1.8 mm:2.0 mm:3", [1.8, 1.9, 2.0], "1.9 mm"),
        ("ignition.advance.2.2=10:30:3", [10, 20, 30], "20"),
    ],
)
def test_values_and_how_the_sheet_has_them(text, values, written):
    found = axis(text)
    assert found.grid() == pytest.approx(values)
    assert found.text(found.grid()[1]) == written
    setup_from_text(changed_text(SHEET, [(found.path, written)]), "twin")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("exhaust.route.1.1.length", "no variation"),
        ("exhaust.route.1.1.length=800 mm", "no variation"),
        ("=1:2:3", "no variation"),
        ("exhaust.route.1.1.length=long:1000 mm:3", "no number"),
        ("exhaust.route.1.1.length=800 mm:40 in:3", "from 'mm' to 'in'"),
        ("exhaust.route.1.1.length=800 mm:1000:3", "from 'mm' to ''"),
        ("exhaust.route.1.1.length=1000 mm:800 mm:3", "from 1000 to 800"),
        ("exhaust.route.1.1.length=800 mm:1000 mm:1", "no count"),
        ("exhaust.route.1.1.length=800 mm:1000 mm:2.5", "no count"),
        ("exhaust.route.1.1.length=1/0 mm:1000 mm:3", "no number"),
    ],
)
def test_what_is_no_variation(text, said):
    with pytest.raises(UsageError, match=said):
        axis(text)


def test_an_unknown_path_names_the_nearest():
    with pytest.raises(InputError, match="no path") as caught:
        axis("exhaust.route.1.1.lenght=800 mm:1000 mm:3")
    assert "exhaust.route.1.1.length" in str(caught.value)


@pytest.mark.parametrize(
    "text", ["exhaust.route.1.1.length=800:1000:3", "engine.bore=-90 mm:-80 mm:3", "engine.cooling=1:2:2"]
)
def test_ends_that_can_never_stand_there(text):
    with pytest.raises(InputError):
        axis(text)


def test_one_end_beyond_the_limit_is_left_to_the_designs():
    assert axis("exhaust.route.1.1.length=-100 mm:1000 mm:3").count == 3


def test_whole_numbers_stay_whole():
    valves = axis("engine.intake_valve.count=1:3:3")
    assert list(valves.grid()) == [1, 2, 3]
    spread = valves.spread(np.linspace(0.0, 1.0 - 1e-12, 300))
    assert [int(np.sum(spread == n)) for n in (1, 2, 3)] == [100, 100, 100]
    with pytest.raises(UsageError, match="whole"):
        axis("engine.intake_valve.count=1:4:3").grid()
