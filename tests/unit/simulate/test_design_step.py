"""Three designs on one straight way."""

from pathlib import Path

import pytest

from pulsewright.bench.sheet import read_setup
from pulsewright.simulate.design_step import how_far, numbers_of

TWIN = Path(__file__).parents[3] / "examples" / "narrow-twin" / "setup.toml"


def numbers(*changes: tuple[str, str]) -> tuple[float, ...]:
    return numbers_of(read_setup(TWIN, list(changes)))


def length(size: str) -> tuple[str, str]:
    return ("exhaust.route.1.1.length", size)


def test_a_slider_that_goes_on_leads_as_much_further():
    way = [numbers(length(size)) for size in ("880 mm", "890 mm", "905 mm")]
    assert how_far(*way) == pytest.approx(1.5)
    assert how_far(way[0], way[2], way[1]) == pytest.approx(-0.6)


def test_another_slider_leads_elsewhere():
    before, last = numbers(length("880 mm")), numbers(length("890 mm"))
    other = numbers(length("890 mm"), ("carburettor.1.main_jet", "1.70 mm"))
    assert how_far(before, last, other) is None


def test_a_slider_that_stood_still_or_jumps_leads_nowhere():
    here, there, far = (numbers(length(size)) for size in ("880 mm", "885 mm", "990 mm"))
    assert how_far(here, here, there) is None
    assert how_far(here, there, far) is None
    assert how_far(here, there, there) == 0.0


def test_a_design_with_other_parts_has_other_numbers():
    assert how_far((1.0, 2.0), (1.0, 2.1), (1.0, 2.1, 3.0)) is None
