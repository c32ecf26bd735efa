"""How fast disturbances grow, read off cycles of maps whose eigenvalues are known."""

import numpy as np
import pytest

from pulsewright.simulate.growth import Trail
from pulsewright.simulate.settle import LATELY, MAY_GROW, may_last

RANDOM = np.random.default_rng(7)
TURN = 0.9
SPIRAL = 1.1 * np.array([[np.cos(TURN), -np.sin(TURN)], [np.sin(TURN), np.cos(TURN)]])  # eigenvalues 1.1 e^(+-0.9 i)


def walked(map_: np.ndarray, cycles: int, mixed: bool) -> Trail:
    """Cycles of `map_` in a space of many more numbers than it acts on."""
    size = len(map_)
    basis = np.linalg.qr(RANDOM.normal(size=(200, size)))[0]
    trail, x = Trail(), RANDOM.normal(size=size)
    for _ in range(cycles):
        trail.add(basis @ x, basis @ (map_ @ x - x))
        x = RANDOM.normal(size=size) if mixed else map_ @ x
    return trail


@pytest.mark.parametrize("mixed", [False, True])
@pytest.mark.parametrize(
    ("map_", "largest"),
    [
        (np.diag([0.6, 0.3]), 0.6),
        (np.diag([0.5, -1.2]), 1.2),  # strong and weak cycles by turns
        (SPIRAL, 1.1),
        (np.array([[0.5, 3.0], [0.0, 0.4]]), 0.5),  # a change that grows at first and then dies away
    ],
)
def test_the_largest_eigenvalue_is_found(map_: np.ndarray, largest: float, mixed: bool):
    assert walked(map_, len(map_) + 1, mixed).growth() == pytest.approx(largest, rel=1e-9)


def test_only_the_last_cycles_are_asked():
    trail, x = Trail(), np.ones(3)
    for share in (2.0, 2.0, 2.0, 0.5, 0.5, 0.5):
        trail.add(x, (share - 1.0) * x)
        x = share * x
    assert trail.growth(3) == pytest.approx(0.5)


@pytest.mark.parametrize(("early", "late", "lasts"), [(0.2, 1.3, False), (0.2, 0.6, True)])
def test_growth_that_only_the_last_cycles_show_is_growth(early: float, late: float, lasts: bool):
    """The map is that of the place: on the way there it may have been another one, whose cycles are more."""
    trail = Trail()
    for share, cycles, away in ((early, 40, 1.0), (late, LATELY, 0.05)):
        for _ in range(cycles):
            x = away * RANDOM.normal(size=3)
            trail.add(x, (share - 1.0) * x)
    assert trail.growth() < MAY_GROW  # of all cycles nothing is seen
    assert may_last(trail) == lasts


def test_a_single_cycle_or_one_that_moves_nothing_shows_no_growth():
    trail = Trail()
    assert trail.growth() == 0.0
    trail.add(np.ones(3), np.zeros(3))
    assert trail.growth() == 0.0
    trail.add(np.ones(3), np.zeros(3))
    assert trail.growth() == 0.0
