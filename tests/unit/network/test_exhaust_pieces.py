"""Every piece that a sheet can put into an exhaust is laid and runs."""

import numpy as np
import pytest
from tests.trade.generic_twin import OPEN, pipe, route, twin

from pulsewright.bench.sheet import setup_from_text
from pulsewright.errors import InputError
from pulsewright.network.case import Case, build_case
from pulsewright.network.options import ENDS, NON_REFLECTING, Options
from pulsewright.simulate.cycle import CycleResult, run_cycle, set_speed

CONE = '{ piece = "pipe", length = "250 mm", bore_in = "42 mm", bore_out = "56 mm" }'
BENDS = '{ piece = "pipe", length = "500 mm", bore = "42 mm", wall = "double", bends = [90, 45] }'


def obstacle(rest: str) -> str:
    return route(pipe(0.6), f"{{ {rest} }}", OPEN)


def muffler(core: str, more: str = "") -> str:
    rest = 'body_length = "400 mm", body_bore = "100 mm", core_bore = "40 mm", chambers = 2'
    return route(pipe(0.6), f'{{ piece = "muffler", {rest}, core = "{core}"{more} }}', pipe(0.15), OPEN)


def insert(packed: str) -> str:
    return obstacle(f'piece = "insert", length = "250 mm", bore = "30 mm", packed = {packed}')


def end(kind: str) -> str:
    return route(pipe(0.6), f'{{ piece = "end", kind = "{kind}" }}')


COLLECTOR = f"""[exhaust]
route.1 = [ {pipe(0.5)}, {{ piece = "join", into = "collector 1" }} ]
route.2 = [ {pipe(0.6)}, {{ piece = "join", into = "collector 1" }} ]
after."collector 1" = [ {pipe(0.5, 54.0)}, {OPEN} ]
lambda_sensor."collector 1" = "100 mm"
"""
CROSSOVER = f"""[exhaust]
route.1 = [ {pipe(0.8)}, {{ piece = "crossover", to = 2, at = "400 mm", bore = "25 mm", length = "150 mm" }},
  {OPEN} ]
route.2 = [ {pipe(0.8)}, {OPEN} ]
"""
PIECES = {
    "cone": route(pipe(0.5), CONE, OPEN),
    "bends in a double wall": route(BENDS, OPEN),
    "plate at the end": obstacle('piece = "plate", width = "16 mm", angle = "90 deg", from_end = "0 mm"'),
    "plate at 45 degrees": obstacle('piece = "plate", width = "16 mm", angle = "45 deg", from_end = "60 mm"'),
    "cross-bolt": obstacle('piece = "cross-bolt", diameter = "8 mm", from_end = "50 mm"'),
    "disc": obstacle('piece = "disc", open_area_fraction = "50 %"'),
    "packed insert": insert("true"),
    "insert without packing": insert("false"),
    "perforated packed muffler": muffler("perforated packed"),
    "muffler whose packing is gone": muffler("perforated packed", ', packing = "gone"'),
    "baffled muffler": muffler("baffled"),
    "louvred muffler": muffler("louvred"),
    "butterfly": obstacle('piece = "valve", bore = "42 mm", angle_by_rpm = [[2000, 60], [5000, 0]]'),
    "collector": COLLECTOR,
    "crossover": CROSSOVER,
    "open end": end("open"),
    "flanged end": end("flanged"),
    "turn-out end": end("turn-out"),
    "non-reflecting end": end("non-reflecting"),
}


def three_cycles(exhaust: str, options: Options, rpm: float) -> tuple[Case, CycleResult]:
    case = build_case(setup_from_text(twin(exhaust), "generic twin"), options, rpm)
    set_speed(case, rpm)
    results = [run_cycle(case) for _ in range(3)]
    assert not any(r.failed for r in results)
    return case, results[-1]


@pytest.mark.parametrize("exhaust", PIECES.values(), ids=PIECES)
@pytest.mark.parametrize("ends", ENDS)
def test_a_piece_runs(exhaust: str, ends: str):
    """Three cycles from cold leave finite gas everywhere and an engine that pulls."""
    case, result = three_cycles(exhaust, Options(exhaust_ends=ends), 3000.0)
    c = case.arrays["cells"][0]
    used = c["inverse_volume"] > 0.0
    for name in ("p", "T", "u", "yb", "yv", "yz"):
        assert np.all(np.isfinite(c[name][used])), name
    assert c["p"][used].min() > 2e4
    assert 200.0 < c["T"][used].min() < c["T"][used].max() < 3000.0
    assert 40.0 < result.torque < 160.0
    assert case.arrays["joints"]["unsolved"].sum() == 0


@pytest.mark.parametrize("name", ["baffled muffler", "packed insert", "collector", "plate at the end"])
def test_a_piece_changes_the_engine(name: str):
    """Against a plain pipe of the same length, by more than the tolerance of a sweep."""
    _, plain = three_cycles(route(pipe(0.6), OPEN), Options(), 3000.0)
    _, result = three_cycles(PIECES[name], Options(), 3000.0)
    assert abs(result.torque / plain.torque - 1.0) > 5e-3


def test_packing_ages_and_an_empty_body_is_no_packed_one():
    """New, aged and gone differ in torque, and a gone packing leaves no resistance behind the holes."""
    torque, walls = {}, {}
    for packing in ("new", "aged", "gone"):
        case, result = three_cycles(muffler("perforated packed", f', packing = "{packing}"'), Options(), 3000.0)
        torque[packing], walls[packing] = result.torque, case.arrays["leaks"]["resistance"].max()
    assert walls["new"] > 2.0 * walls["aged"] > walls["gone"] == 0.0
    assert abs(torque["gone"] / torque["new"] - 1.0) > 1e-3


def test_packing_of_a_core_that_has_none_is_refused():
    with pytest.raises(InputError, match="which has none"):
        setup_from_text(twin(muffler("louvred", ', packing = "aged"')), "generic twin")


def test_a_free_end_cuts_the_route_at_the_first_piece_that_sends_echoes():
    """With non-reflecting ends nothing behind the header is laid."""
    full = build_case(setup_from_text(twin(PIECES["baffled muffler"]), "generic twin"), Options(), 3000.0)
    options = Options(exhaust_ends=NON_REFLECTING)
    cut = build_case(setup_from_text(twin(PIECES["baffled muffler"]), "generic twin"), options, 3000.0)
    port = full.setup.engine.exhaust_port.length
    assert cut.exhaust.lines[1].length == pytest.approx(port + 0.6)
    assert full.exhaust.lines[1].length == pytest.approx(port + 0.6 + 0.4 + 0.15)
