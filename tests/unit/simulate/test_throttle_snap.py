"""The snap of a throttle around steady curves that cost nothing: closed forms, books, facts of the trade."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from pulsewright.simulate.throttle_snap import (
    BEFORE,
    GUESSES,
    STEP,
    CentralFilm,
    Film,
    Snap,
    SteadyFlow,
    excursion,
    fuel_to_cylinders,
    pumped_fuel,
    snap_answers,
)

FUEL = 740.0  # [kg/m³]
THROTTLE = np.geomspace(0.1, 1.0, 7)
AIR = 0.004 + 0.016 * (THROTTLE - 0.1) / 0.9  # [kg/s]
STEADY = SteadyFlow(
    throttle=THROTTLE, air=AIR, fuel=AIR / (14.5 * 0.9), pressure=1e5 * (0.4 + 0.55 * (THROTTLE - 0.1) / 0.9),
    rpm=2000.0, air_fuel_ratio=14.5, fuel_density=FUEL,
    outcome=("converged",) * 7,
)  # fmt: skip
SNAP = Snap(start=0.1, end=1.0, opening_time=0.0, pump_volume=0.0, pump_time=0.3)
FILM = Film(share=0.4, time_constant=0.5)


def at(curve: np.ndarray, seconds: float) -> float:
    return float(curve[round((seconds + BEFORE) / STEP)])


def test_without_film_lambda_stays():
    dry = excursion(STEADY, replace(SNAP, opening_time=0.2), Film(share=0.0, time_constant=0.5))
    assert dry.mixture == pytest.approx(np.full(dry.time.size, 0.9), rel=1e-3)  # the air bends between openings
    assert dry.taken_up == 0.0


def test_a_sudden_snap_goes_lean_as_the_closed_form_says():
    """Aquino 1981: fuel 1 before, 5 after, X 0.4, tau 0.5 s; at once 5 / (5 - 0.4 * 4) = 1.4706 times leaner."""
    found = excursion(STEADY, SNAP, FILM)
    assert at(found.without_pump, -0.05) == pytest.approx(0.9, rel=1e-9)
    for seconds in (0.0, 0.25, 1.0):
        middle = seconds + 0.5 * STEP
        assert at(found.without_pump, seconds) == pytest.approx(
            0.9 * 5.0 / (5.0 - 1.6 * np.exp(-middle / 0.5)), rel=1e-5
        )
    assert found.without_pump.max() / 0.9 == pytest.approx(1.4706, rel=2e-3)
    assert found.without_pump[-1] == pytest.approx(0.9, rel=3e-3)
    assert np.array_equal(found.mixture, found.without_pump)


def test_snapped_shut_it_goes_rich():
    found = excursion(STEADY, replace(SNAP, start=1.0, end=0.1), FILM)
    assert found.without_pump.min() == pytest.approx(0.9 / (1.0 + 0.4 * 4.0), rel=1e-2)
    assert found.taken_up < 0.0


def test_a_pump_gives_its_volume_and_no_more():
    """Books: of the whole way it gives its whole shot, of half the way half."""
    for end, share in ((1.0, 0.9), (0.55, 0.45)):
        snap = replace(SNAP, end=end, pump_volume=0.8e-6, opening_time=0.15)
        found = excursion(STEADY, snap, FILM)
        assert found.pumped == pytest.approx(0.8e-6 * share)
        pushed = np.diff(np.clip((found.time + STEP) / 0.15, 0.0, 1.0), prepend=0.0) * found.pumped * FUEL
        given = np.sum(pumped_fuel(pushed, 0.3)) * STEP
        assert given == pytest.approx(found.pumped * FUEL, rel=1e-4)  # 3 s are ten times of its own


@pytest.mark.parametrize("film", [FILM, CentralFilm(rpm=1500.0)])
def test_pump_and_film_lose_no_fuel(film: Film | CentralFilm):
    metered = np.linspace(1e-4, 2e-3, 2000)
    pumped = pumped_fuel(np.where(np.arange(2000) == 100, 5e-4, 0.0), 0.3)
    shares, times = film.over(np.linspace(4e4, 1e5, 2000))
    reached, films = fuel_to_cylinders(metered, shares, times, pumped)
    start = shares[0] * times[0] * metered[0]
    assert np.sum(reached) * STEP + films[-1] - start == pytest.approx(np.sum(metered + pumped) * STEP, rel=1e-12)


def test_a_pump_takes_the_lean_spike_away_and_a_huge_one_drowns_it():
    """Common practice, no published source: no pump bogs, the right one does not, too much floods."""
    snap = replace(SNAP, opening_time=0.1)
    wanted = FILM.share * FILM.time_constant * (STEADY.fuel[-1] - STEADY.fuel[0]) / FUEL  # what the film takes up
    none, right, flood = (
        excursion(STEADY, replace(snap, pump_volume=v), FILM) for v in (0.0, wanted / 0.9, 8 * wanted)
    )
    assert none.taken_up == pytest.approx(wanted)
    assert none.stumbles(none.mixture) > 0.2
    assert right.stumbles(right.mixture) < 0.3 * none.stumbles(none.mixture)
    assert flood.mixture.min() < 0.6
    assert right.without_pump == pytest.approx(none.mixture)


def test_steady_running_knows_neither_film_nor_pump():
    still = excursion(STEADY, replace(SNAP, start=0.5, end=0.5, pump_volume=1e-6), FILM)
    assert still.mixture == pytest.approx(np.full(still.time.size, still.mixture[0]), rel=1e-9)
    assert still.pumped == 0.0


def test_every_guess_is_answered():
    found = snap_answers(STEADY, SNAP)
    assert [each.film for each in found] == [*GUESSES, CentralFilm(rpm=STEADY.rpm)]
    guesses = [each.without_pump.max() for each in found[:3]]
    assert np.all(np.diff(guesses) > 0.0)  # the wetter the wall the leaner


def test_the_fit_to_pressure_lies_among_the_guesses_and_dries_as_the_throttle_opens():
    """Less lands on the wall under more pressure; the lean spike lies between the driest and the wettest guess."""
    *guesses, fit = snap_answers(STEADY, SNAP)
    assert fit.share[0] > fit.share[1]
    assert guesses[0].without_pump.max() < fit.without_pump.max() < guesses[2].without_pump.max()
    assert fit.mixture[-1] == pytest.approx(0.9, rel=0.02)
    assert (fit.as_json()["film"], guesses[0].as_json()["film"]) == ("fit to pressure", "guess")
