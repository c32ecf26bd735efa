"""Starts from neighbouring speeds and designs: fewer cycles, the same end."""

from pathlib import Path as File

import numpy as np
import pytest

from pulsewright.bench.sheet import read_setup
from pulsewright.network.case import build_case
from pulsewright.network.options import Options
from pulsewright.simulate.settle import CONVERGED, TORQUE_WITHIN, settle
from pulsewright.simulate.sweep import sweep
from pulsewright.simulate.warm_start import Path, WarmStart

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
