"""Fuel on the wall: closed forms of the published model, and books."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pulsewright.physics.wall_film import central_film, film_at_rest, film_step, fuel_after_step

share = st.floats(0.0, 0.9)
tau = st.floats(0.02, 5.0)
flow = st.floats(1e-5, 5e-3)


def test_a_step_answers_as_the_published_model_does():
    """Aquino 1981, X 0.3, tau 0.5 s, metered fuel doubled: worked by hand, 2 - 0.3 exp(-t / 0.5) of the old flow."""
    film, old = film_at_rest(1e-3, 0.3, 0.5), 1e-3
    for n in range(1, 2001):
        film, reached = film_step(film, 2e-3, 0.3, 0.5, 1e-3)
        if n in (1, 500, 1000, 2000):
            middle = (n - 0.5) * 1e-3
            assert reached / old == pytest.approx(2.0 - 0.3 * math.exp(-middle / 0.5), abs=1e-6)
            assert fuel_after_step(old, 2e-3, 0.3, 0.5, middle) == pytest.approx(reached, rel=1e-6)
    assert 2.0 - 0.3 * math.exp(-1.0) == pytest.approx(1.88964, abs=5e-6)  # after one half second


@given(metered=flow, share=share, tau=tau, dt=st.floats(1e-5, 1.0))
def test_in_steady_flow_what_is_metered_arrives(metered: float, share: float, tau: float, dt: float):
    film, reached = film_step(film_at_rest(metered, share, tau), metered, share, tau, dt)
    assert reached == pytest.approx(metered, rel=1e-9)
    assert film == pytest.approx(film_at_rest(metered, share, tau), rel=1e-12)


@given(share=share, tau=tau, seed=st.integers(0, 1000))
def test_no_fuel_is_lost_whatever_is_metered(share: float, tau: float, seed: int):
    random, dt = np.random.default_rng(seed), 3e-3
    film = start = 1e-5
    given_fuel = arrived = 0.0
    for metered in random.uniform(0.0, 4e-3, 300):
        film, reached = film_step(film, float(metered), share, tau, dt)
        given_fuel += metered * dt
        arrived += reached * dt
        assert reached >= 0.0
    assert arrived + film - start == pytest.approx(given_fuel, rel=1e-11)


@pytest.mark.parametrize("dt", [1e-3, 0.05, 0.7])
def test_the_step_is_exact_whatever_its_length(dt: float):
    """One long step is many short ones."""
    film, reached = film_step(2e-5, 1e-3, 0.4, 0.3, dt)
    fine, total = 2e-5, 0.0
    for _ in range(1000):
        fine, each = film_step(fine, 1e-3, 0.4, 0.3, dt / 1000)
        total += each / 1000
    assert film == pytest.approx(fine, rel=1e-9)
    assert reached == pytest.approx(total, rel=1e-6)


@pytest.mark.parametrize(
    ("bar", "rpm", "share", "tau"),
    [(0.4, 1000.0, 0.5142, 0.89581), (0.825, 1500.0, 0.368975, 0.62), (0.9, 2500.0, 0.2932, 0.56)],
)
def test_the_fit_to_pressure_by_hand(bar: float, rpm: float, share: float, tau: float):
    """Hendricks & Sorenson 1990 (from memory), worked by hand: 0.68 - 0.277 p - 0.055 n, and its time constant."""
    assert central_film(1e5 * bar, rpm) == pytest.approx((share, tau), rel=1e-4)


@given(pressure=st.floats(1e3, 3e5), rpm=st.floats(300.0, 20000.0))
def test_the_fit_is_held_where_it_ends(pressure: float, rpm: float):
    x, t = central_film(pressure, rpm)
    assert 0.2 < x < 0.65
    assert 0.5 < t < 1.7
    assert central_film(1e5, 2500.0) == central_film(2e5, 9000.0)
