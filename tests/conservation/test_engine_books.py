"""Nothing is lost or made: mass and energy over one cycle of a whole engine.

Bounds of the project; the laws themselves need no source.
"""

import pytest
from tests.conservation.books import Books, march_with_books
from tests.trade.generic_twin import OPEN, pipe, route, twin

from pulsewright.bench.sheet import setup_from_text
from pulsewright.network.case import Case, build_case
from pulsewright.network.options import Options
from pulsewright.simulate.settle import Tolerance, settle

RPM = 3500.0
PACKED = '{ piece = "insert", length = "250 mm", bore = "32 mm", packed = true }'
MUFFLER = (
    '{ piece = "muffler", body_length = "400 mm", body_bore = "100 mm", core_bore = "38 mm",'
    ' core = "%s", chambers = 2 }'
)
EVERYTHING = f"""[exhaust]
route.1 = [ {pipe(0.6)}, {{ piece = "crossover", to = 2, at = "300 mm", bore = "25 mm", length = "150 mm" }},
  {{ piece = "join", into = "collector 1" }} ]
route.2 = [ {pipe(0.6)}, {{ piece = "join", into = "collector 1" }} ]
after."collector 1" = [ {pipe(0.4, 50.0)}, {MUFFLER % "baffled"}, {pipe(0.3, 42.0)}, {PACKED}, {OPEN} ]
"""
EXHAUSTS = {
    "open pipes": None,
    "packed muffler": route(pipe(), MUFFLER % "perforated packed", pipe(0.15), OPEN),
    "crossover, collector, muffler, insert": EVERYTHING,
}


def ready(exhaust: str | None, options: Options, cycles: int) -> Case:
    """A case of the generic twin after some cycles."""
    case = build_case(setup_from_text(twin(exhaust), "generic twin"), options, RPM)
    settle(case, RPM, Tolerance(torque=0.0, most_cycles=cycles, run_on=0))
    return case


@pytest.fixture(scope="module")
def periodic() -> Books:
    """The open twin after so many cycles that it repeats itself."""
    return march_with_books(ready(None, Options(), 30))


def test_a_converged_cycle_gives_out_the_mass_it_takes_in(periodic: Books):
    through = periodic.mass_through_mouths + periodic.mass_from_carburettors
    assert abs(through) < 1e-5 * periodic.mass_drawn
    assert periodic.mass_drawn > 1e-3


def test_a_converged_cycle_gives_out_the_energy_it_takes_in(periodic: Books):
    """To 0.2 % of the heat released, without counting what the gas inside gained."""
    assert abs(periodic.energy_gained) < 2e-3 * periodic.released
    assert abs(periodic.energy_left_over) < 2e-3
    assert 0.2 < periodic.work / periodic.released < 0.45
    assert periodic.duct_heat > 0.01 * periodic.released


@pytest.mark.parametrize("exhaust", EXHAUSTS.values(), ids=EXHAUSTS)
@pytest.mark.parametrize("mixture", [None, 0.87], ids=["carburettor", "premixed"])
def test_the_books_close_in_any_cycle(exhaust: str | None, mixture: float | None):
    """Converged or not, with what the gas inside gained counted: rounding is all that is left."""
    books = march_with_books(ready(exhaust, Options(mixture=mixture), 3))
    assert abs(books.mass_left_over) < 1e-9
    assert abs(books.energy_left_over) < 1e-6


@pytest.mark.parametrize("kind", ["fixed venturi", "slide", "constant velocity"])
def test_the_books_close_behind_a_throttle(kind: str):
    """Fuel and air of two circuits, one in front of the throttle and one behind it, and a piston that moves."""
    text = twin().replace('kind = "fixed venturi"', f'kind = "{kind}"\nthrottle = "20 %"')
    case = build_case(setup_from_text(text, "generic twin"), Options(), RPM)
    settle(case, RPM, Tolerance(torque=0.0, most_cycles=3, run_on=0))
    books = march_with_books(case)
    row = case.arrays["carburettors"][0]
    assert (row["circuit"]["sum_fuel"] > 0.0).all()
    assert books.mass_from_carburettors > 0.01 * books.mass_drawn
    assert abs(books.mass_left_over) < 1e-9
    assert abs(books.energy_left_over) < 1e-6


def test_the_books_see_what_they_should(periodic: Books):
    """A wrong term must show: without the duct walls' heat the energy books stand open."""
    without = periodic.energy_left_over + periodic.duct_heat / periodic.released
    assert abs(without) > 2e-3
