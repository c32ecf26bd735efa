"""Which speeds on a full card are drawn through which."""

import numpy as np
import pytest

from pulsewright.gpu.batch import Job
from pulsewright.gpu.start_order import all_at_once, by_neighbours, usable
from pulsewright.simulate.outcome import CONVERGED, CYCLE_LIMIT, FAILED

SPEEDS = [3000.0 * 1.05**n for n in range(9)]


def order_of(speeds, design=0):
    jobs = [Job(design, rpm) for rpm in speeds]
    return jobs, by_neighbours(jobs)


def sources_of(order, job):
    return [int(n) for n in order.sources[job] if n >= 0]


def test_every_fourth_speed_and_the_last_start_by_themselves():
    _jobs, order = order_of(SPEEDS)
    assert [n for n in range(9) if not sources_of(order, n)] == [0, 4, 8]


def test_a_speed_between_is_drawn_through_two_on_either_side_nearest_first():
    _jobs, order = order_of(SPEEDS)
    around = sources_of(order, 3)
    assert (set(around[:2]), set(around[2:])) == ({2, 4}, {0, 6})
    assert sorted(sources_of(order, 6)) == [4, 8]  # no second one above
    # what goes as the inverse of speed, or its square or cube, is drawn exactly
    inverse = 1.0 / np.array(SPEEDS)
    for power in (0, 1, 2, 3):
        drawn = order.weights[3] @ (inverse[order.sources[3]] ** power)
        assert drawn == pytest.approx(inverse[3] ** power, rel=1e-12)


def test_speeds_too_far_apart_for_a_line_start_from_the_nearest():
    _jobs, order = order_of([1000.0, 1300.0, 2000.0, 2700.0, 4000.0])
    assert sources_of(order, 2) in ([0], [4])
    assert order.weights[2].tolist() == [1.0, 0.0, 0.0, 0.0]


def test_jobs_of_other_designs_are_nobody_s_neighbours():
    jobs = [Job(n % 2, rpm) for n, rpm in enumerate(np.repeat(SPEEDS, 2))]
    order = by_neighbours(jobs)
    for n in range(len(jobs)):
        assert all(jobs[k].design == jobs[n].design for k in sources_of(order, n))


def test_a_job_is_ready_when_all_its_sources_have_ended():
    _jobs, order = order_of(SPEEDS)
    waiting, ended = np.ones(9, dtype=bool), np.zeros(9, dtype=bool)
    assert list(order.ready(waiting, ended)) == [0, 4, 8]
    waiting[[0, 4, 8]], ended[[0, 4]] = False, True
    assert list(order.ready(waiting, ended)) == [2]
    waiting[2], ended[2] = False, True
    assert list(order.ready(waiting, ended)) == [1]  # 3 still waits for 6
    jobs = [Job(0, rpm) for rpm in SPEEDS]
    assert list(all_at_once(jobs).ready(np.ones(9, dtype=bool), np.zeros(9, dtype=bool))) == list(range(9))


@pytest.mark.parametrize(
    ("above", "below", "source"),
    [(CYCLE_LIMIT, CONVERGED, 4), (FAILED, CONVERGED, 2), (CONVERGED, CYCLE_LIMIT, 4), (FAILED, FAILED, None)],
)
def test_where_a_neighbour_did_not_come_to_rest_one_other_is_gone_on_from(above, below, source):
    jobs, order = order_of(SPEEDS)
    outcome = [FAILED] * 9
    outcome[4], outcome[2] = above, below
    sources, shares = usable(order, 3, jobs, outcome)
    if source is None:
        assert not shares.any()
        assert np.all(sources == -1)
    else:
        assert (sources[0], shares[0]) == (source, 1.0)
