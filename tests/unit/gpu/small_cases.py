"""Cases small enough for the CUDA simulator: long cells, unlike in joints, rooms and leaks, of one capacity class."""

from tests.trade.generic_twin import OPEN, pipe, route, twin

from pulsewright.bench.sheet import setup_from_text
from pulsewright.network.case import Case, build_case
from pulsewright.network.options import NON_REFLECTING, Options
from pulsewright.simulate.cycle import set_speed

LONG_CELLS = 3.0
INSERT = '{ piece = "insert", length = "250 mm", bore = "30 mm", packed = true }'


def small_cases(rpm: float) -> list[Case]:
    """Pipes that end in the open, that send nothing back, an insert with porous walls and fuel on the manifold's, a
    piston that suction lifts."""
    plain, leaky = twin(route(pipe(0.6), OPEN)), twin(route(pipe(0.4), INSERT, OPEN))
    leaky = leaky.replace("[intake]\n", '[intake]\nwall_film = "30 %"\n')
    lifted = plain.replace('kind = "fixed venturi"', 'kind = "constant velocity"\nthrottle = "40 %"')
    lifted = lifted.replace('main_air_bleed = "1.1 mm"', 'main_air_bleed = "0.45 mm"')
    cases = [
        build_case(setup_from_text(sheet, "twin"), Options(grid=LONG_CELLS, exhaust_ends=ends), rpm)
        for sheet, ends in ((plain, "as built"), (plain, NON_REFLECTING), (leaky, "as built"), (lifted, "as built"))
    ]
    for case in cases:
        set_speed(case, rpm)
    return cases
