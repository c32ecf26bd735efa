"""Measures along a route: sums and straight lines, worked by hand."""

import pytest

from pulsewright.bench.exhaust import CrossBolt, Crossover, End, Exhaust, Insert, Muffler, Pipe
from pulsewright.bench.route import bore_at, crossover_links, host_of, outlet_bore, route_length

CONE = Pipe(length=0.6, bore_in=0.040, bore_out=0.052)
MUFFLER = Muffler(body_length=0.3, body_bore=0.1, core_bore=0.045, core="baffled", chambers=2, open_area_fraction=1.0)
TAIL = Pipe(length=0.1, bore_in=0.038, bore_out=0.038)
BOLT = CrossBolt(diameter=0.008, from_end=0.05)
ROUTE = (CONE, BOLT, MUFFLER, TAIL, End(kind="open"))


def test_length_and_bores():
    assert route_length(ROUTE) == pytest.approx(1.0)
    bores = [bore_at(ROUTE, distance) for distance in (0.0, 0.3, 0.6, 0.7, 0.95, 1.2)]
    assert bores[:5] == pytest.approx([0.040, 0.046, 0.052, 0.045, 0.038])
    assert bores[5] is None
    assert host_of(ROUTE, 1) is CONE
    assert host_of(ROUTE, 0) is None
    assert outlet_bore(ROUTE) == 0.038
    assert outlet_bore((*ROUTE[:-1], Insert(length=0.05, bore=0.03, packed=False), ROUTE[-1])) == 0.03


def crossing(to: int, at: float) -> Crossover:
    return Crossover(to=to, at=at, bore=0.02, length=0.15)


def test_a_crossover_counts_once_however_it_is_written():
    once = Exhaust(route={1: (CONE, crossing(2, 0.4)), 2: (CONE,)}, after={}, lambda_sensor={})
    (link,) = crossover_links(once)
    assert (link.cylinders, link.at) == ((1, 2), (0.4, 0.4))
    twice = Exhaust(route={1: (CONE, crossing(2, 0.4)), 2: (CONE, crossing(1, 0.5))}, after={}, lambda_sensor={})
    (link,) = crossover_links(twice)
    assert (link.cylinders, link.at) == ((1, 2), (0.4, 0.5))
    upper = Exhaust(route={1: (CONE,), 2: (CONE, crossing(1, 0.3))}, after={}, lambda_sensor={})
    (link,) = crossover_links(upper)
    assert (link.cylinders, link.at) == ((2, 1), (0.3, 0.3))
