"""Starts from neighbouring speeds and designs: fewer cycles, the same end."""

from pathlib import Path as File

import numpy as np
import pytest

from pulsewright.bench.sheet import read_setup
from pulsewright.network.case import build_case
from pulsewright.network.options import Options
from pulsewright.simulate.outcome import CONVERGED
from pulsewright.simulate.settle import TORQUE_WITHIN, settle
from pulsewright.simulate.sweep import sweep
from pulsewright.simulate.warm_start import Path, WarmStart, passes, weights

TWIN = File(__file__).parents[3] / "examples" / "narrow-twin" / "setup.toml"
SPEEDS = [5000.0, 4800.0, 4600.0, 4400.0]


@pytest.fixture(scope="module")
def cold() -> dict[float, tuple[float, int]]:
    """Torque and cycles of every speed, each from gas at rest."""
    setup = read_setup(TWIN)
    ends = {rpm: settle(build_case(setup, Options(), rpm), rpm) for rpm in SPEEDS}
    return {rpm: (end.torque, end.cycles) for rpm, end in ends.items()}


def test_a_speed_starts_from_its_neighbours_and_ends_where_it_would_have_ended(cold):
    case, warm = build_case(read_setup(TWIN), Options(), SPEEDS[0]), WarmStart()
    ends = [warm.settle(case, rpm) for rpm in SPEEDS]
    for rpm, end in zip(SPEEDS, ends, strict=True):
        assert end.outcome == CONVERGED
        assert end.torque == pytest.approx(cold[rpm][0], rel=2.0 * TORQUE_WITHIN)
    assert sum(end.cycles for end in ends[1:]) < sum(cold[rpm][1] for rpm in SPEEDS[1:])


def test_the_number_of_threads_moves_torque_by_less_than_the_tolerance():
    setup = read_setup(TWIN)
    one, three = (sweep(setup, SPEEDS, threads=n) for n in (1, 3))
    for a, b in zip(one, three, strict=True):
        assert a.torque == pytest.approx(b.torque, rel=2.0 * TORQUE_WITHIN)


def test_the_next_design_of_a_slider_starts_from_the_last(cold):
    path = Path()
    name = "carburettor.1.main_jet"
    first, second = (read_setup(TWIN, [(name, size)]) for size in ("1.95 mm", "1.96 mm"))
    sweep(first, SPEEDS, path=path)
    along = sweep(second, SPEEDS, path=path)
    apart = sweep(second, SPEEDS)
    for a, b in zip(along, apart, strict=True):
        assert a.torque == pytest.approx(b.torque, rel=2.0 * TORQUE_WITHIN)
    assert sum(p.cycles for p in along) < sum(p.cycles for p in apart)


def test_a_speed_that_did_not_come_to_rest_is_forgotten():
    path, setup = Path(), read_setup(TWIN)
    sweep(setup, SPEEDS[:1], path=path)
    case = build_case(setup, Options(), SPEEDS[0])
    assert path.start(case, SPEEDS[0]) is not None
    path.forget(SPEEDS[0])
    assert path.start(case, SPEEDS[0]) is None


def test_every_speed_says_how_far_its_torque_may_still_be():
    for point in sweep(read_setup(TWIN), SPEEDS):
        assert 0.0 <= point.torque_left <= TORQUE_WITHIN * point.torque
        assert np.isfinite(point.torque_left)


def test_a_speed_between_four_others_takes_fewer_cycles_than_one_beside_another():
    case, cycles = build_case(read_setup(TWIN), Options(), 5250.0), []
    for known in ((5625.0, 5437.5, 5062.5, 4875.0), (5437.5,)):
        warm = WarmStart()
        for rpm in known:
            warm.settle(case, rpm)
        cycles.append(warm.settle(case, 5250.0).cycles)
    assert cycles[0] < cycles[1]


def test_a_start_is_drawn_through_the_speeds_around_it():
    places = [1.0, 2.0, 4.0, 5.0]
    cube = [x**3 - 2.0 * x for x in places]
    assert sum(w * y for w, y in zip(weights(places, 3.0), cube, strict=True)) == pytest.approx(21.0)
    assert weights([2.0], 9.0) == [1.0]


@pytest.mark.parametrize("count", range(1, 7))
def test_every_speed_is_settled_once_and_none_lies_outside_the_first_pass(count: int):
    assert passes([5000.0, 4800.0, 4600.0, 4400.0]) == [5000.0, 4600.0, 4400.0, 4800.0]
    speeds = [float(s) for s in range(6000, 6000 - 100 * count, -100)]
    order = passes(speeds)
    assert sorted(order) == sorted(speeds)
    assert order[0] == speeds[0]
    assert speeds[-1] in order[: count // 2 + 1]
