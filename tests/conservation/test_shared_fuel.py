"""What one carburettor gives to several cylinders arrives, whoever gets it: vapour and wall film together.

Bounds of the project; conservation needs no source. How the film is shared out is the sheet's word, so the closed
formula for a film that alone decides is the check: fuel of cylinder n = (1 - X) of its share without a film + X s_n.
"""

import numpy as np
import pytest
from tests.conservation.books import march_with_books
from tests.trade.generic_twin import twin

from pulsewright.bench.sheet import setup_from_text
from pulsewright.network.case import Case, build_case
from pulsewright.network.options import Options
from pulsewright.simulate.cycle import CycleResult, run_cycle
from pulsewright.simulate.settle import Tolerance, settle

RPM = 3500.0
FILM = 0.3


def wet_twin(film: float, *split: float, cylinders: int = 2) -> str:
    """The generic twin, or three or six of its cylinders, on one carburettor with a film."""
    text = twin()
    if cylinders > 2:
        firing = [round(720.0 * n / cylinders, 2) for n in range(cylinders)]
        text = text.replace("cylinders = 2", f"cylinders = {cylinders}").replace(
            "firing = [0, 412]", f"firing = {firing}"
        )
        text = text.replace("feeds = [1, 2]", f"feeds = {list(range(1, cylinders + 1))}")
        runner = 'branch.1 = [ { length = "90 mm", bore = "42 mm" } ]\n'
        pipe = next(line for line in text.splitlines() if line.startswith("route.1")) + "\n"
        for n in range(3, cylinders + 1):
            text = text.replace(runner, runner + runner.replace("branch.1", f"branch.{n}"))
            text = text.replace(pipe, pipe + pipe.replace("route.1", f"route.{n}"))
    shares = "".join(f"film_split.{n} = {share}\n" for n, share in enumerate(split, 1))
    return text.replace("[intake]\n", f"[intake]\nwall_film = {film}\n{shares}")


def at_rest(text: str, cycles: int = 40) -> tuple[Case, CycleResult]:
    """A case after so many cycles that it repeats itself, and one more."""
    case = build_case(setup_from_text(text, "wet twin"), Options(), RPM)
    settle(case, RPM, Tolerance(torque=0.0, most_cycles=cycles, run_on=0))
    return case, run_cycle(case)


def share_of_first(result: CycleResult) -> float:
    """Of all fuel, what the first cylinder draws."""
    return float(result.fuel[0] / np.sum(result.fuel))


@pytest.mark.parametrize("cylinders", [2, 3, 6])
def test_the_cylinders_get_what_the_carburettor_gives(cylinders: int):
    """Metered fuel less what leaves through the mouth, against the sum of all intake valves, at rest."""
    case, result = at_rest(wet_twin(FILM, cylinders=cylinders), 60)
    metered = float(np.sum(case.arrays["carburettors"]["circuit"]["sum_fuel"]))
    mouths = case.arrays["joints"][case.intake.mouth_joints]
    lost = float(np.sum(mouths["sum_fuel"]))  # out of the mouth less what is breathed in again
    assert result.fuel.size == cylinders
    assert np.all(result.fuel > 0.0)
    assert np.sum(result.fuel) == pytest.approx(metered - lost, rel=2e-4)
    assert 0.0 <= lost < 0.1 * metered


@pytest.mark.parametrize("share", [0.3, 0.5, 0.7])
def test_a_film_shares_out_by_the_sheet(share: float):
    """The closed formula, to 0.02 of all fuel: the rest of the fuel goes where it went, within what it moves itself."""
    _, dry = at_rest(twin())
    _, wet = at_rest(wet_twin(FILM, share, 1.0 - share))
    expected = (1.0 - FILM) * share_of_first(dry) + FILM * share
    assert share_of_first(wet) == pytest.approx(expected, abs=0.02)


def test_twice_the_film_moves_a_cylinder_twice_as_far():
    """Straight in X: between an even and an uneven film at the same X, to a tenth."""

    def moved(film: float) -> float:
        return share_of_first(at_rest(wet_twin(film, 0.65, 0.35))[1]) - share_of_first(
            at_rest(wet_twin(film, 0.5, 0.5))[1]
        )

    assert moved(0.15) == pytest.approx(0.15 * 0.15, rel=0.1)
    assert moved(0.30) == pytest.approx(2.0 * moved(0.15), rel=0.1)


def test_the_books_close_with_a_film():
    """Mass and energy over one cycle that is not at rest, with what the film takes and gives counted."""
    case = build_case(setup_from_text(wet_twin(FILM, 0.6, 0.4), "wet twin"), Options(), RPM)
    settle(case, RPM, Tolerance(torque=0.0, most_cycles=3, run_on=0))
    books = march_with_books(case)
    assert float(case.arrays["carburettors"]["film_flow"][0]) > 0.0
    assert abs(books.mass_left_over) < 1e-9
    assert abs(books.energy_left_over) < 1e-6
