"""Who gets the wall film of a shared carburettor, and what the sheet may say about it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.unit.bench.sheets import MUFFLED_TWIN

from pulsewright.bench.describe import describe
from pulsewright.bench.fill_film import pauses
from pulsewright.bench.sheet import setup_from_text
from pulsewright.errors import InputError


@given(firing=st.lists(st.floats(0.0, 719.0), min_size=1, max_size=6))
def test_shares_by_pauses_are_a_whole(firing: list[float]):
    shares = pauses(firing)
    assert len(shares) == len(firing)
    assert min(shares) > 0.0
    assert sum(shares) == pytest.approx(1.0)


def test_shares_by_pauses_of_engines_that_everybody_knows():
    """Crank angles by hand: an uneven twin of 315 and 405, an even four, two that draw at once, two pairs."""
    assert pauses([0.0, 405.0]) == pytest.approx([315.0 / 720.0, 405.0 / 720.0])
    assert pauses([405.0, 0.0]) == pytest.approx([405.0 / 720.0, 315.0 / 720.0])
    assert pauses([0.0, 180.0, 540.0, 360.0]) == pytest.approx([0.25] * 4)
    assert pauses([120.0]) == pytest.approx([1.0])
    assert pauses([90.0, 90.0]) == pytest.approx([0.5, 0.5])
    assert pauses([0.0, 360.0, 360.0]) == pytest.approx([0.5, 0.25, 0.25])


def with_film(*lines: str) -> str:
    """The sheet with other lines in place of its own about the film."""
    kept = [line for line in MUFFLED_TWIN.splitlines() if not line.startswith(("wall_film", "film_split"))]
    return "\n".join(kept).replace("[intake]\n", "\n".join(("[intake]", *lines, "")))


def test_a_film_without_a_split_goes_by_the_pauses_and_says_so():
    setup = setup_from_text(with_film('wall_film = "25 %"'), "x")
    assert setup.intake.wall_film == pytest.approx(0.25)
    assert setup.intake.film_split == pytest.approx({1: 308.0 / 720.0, 2: 412.0 / 720.0})
    said = [a for a in setup.assumptions if a.key == "intake.film_split"]
    assert [a.value for a in said] == ["43 / 57 %"]
    assert "25 % of the fuel along the walls, to the cylinders 43 / 57 %" in dict(describe(setup))["intake"]


def test_no_film_is_no_assumption_about_its_split():
    setup = setup_from_text(with_film(), "x")
    assert setup.intake.wall_film == 0.0
    assert not [a for a in setup.assumptions if "film" in a.key]
    assert "walls" not in dict(describe(setup))["intake"]


@pytest.mark.parametrize(
    ("lines", "what"),
    [
        (('film_split.1 = "60 %"', 'film_split.2 = "40 %"'), "there is no wall film to share out"),
        (('wall_film = "20 %"', 'film_split.1 = "60 %"'), "film_split.2 is missing"),
        (('wall_film = "20 %"', 'film_split.1 = "60 %"', 'film_split.2 = "50 %"'), "sum to 110 %; allowed: 100 %"),
        (('film_split.3 = "60 %"',), "names a cylinder that is not there; allowed: 1 to 2"),
        (('film_split.7 = "60 %"',), "'7' is not a cylinder number; allowed: 1 to 6"),
        (('wall_film = "95 %"',), "allowed: 0 or 1 % to 90 %"),
    ],
)
def test_a_split_that_does_not_fit_is_refused(lines: tuple[str, ...], what: str):
    with pytest.raises(InputError, match=what):
        setup_from_text(with_film(*lines), "x")


def test_whole_per_cent_are_enough():
    setup = setup_from_text(with_film('wall_film = "25 %"', 'film_split.1 = "33.4 %"', 'film_split.2 = "66.5 %"'), "x")
    assert sum(setup.intake.film_split.values()) == pytest.approx(1.0, abs=1e-12)
