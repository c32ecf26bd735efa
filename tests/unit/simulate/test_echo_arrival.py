"""When the echo acts, and how long it takes: waves made by hand."""

import numpy as np
import pytest

from pulsewright.simulate.echo_arrival import echo_arrival, round_trip

CRANK = np.arange(721.0)


def bump(middle: float, width: float = 15.0) -> np.ndarray:
    away = (CRANK - middle + 360.0) % 720.0 - 360.0
    return np.exp(-((away / width) ** 2))


def lifts(exhaust_closes: float, intake_opens: float) -> tuple[np.ndarray, np.ndarray]:
    """Intake and exhaust lift, triangles of 250 degrees."""
    intake = np.clip(1.0 - np.abs(CRANK - intake_opens - 125.0) / 125.0, 0.0, None)
    exhaust = np.clip(1.0 - np.abs(CRANK - exhaust_closes + 125.0) / 125.0, 0.0, None)
    return 0.01 * intake, 0.01 * exhaust


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_the_peak_in_overlap_is_found_though_a_larger_wave_comes_when_the_valve_is_all_but_shut(sign):
    returning = sign * (9e3 * bump(352.0) - 15e3 * bump(392.0, 8.0) - 37e3 * bump(250.0))
    at = echo_arrival(CRANK, 60e3 * bump(160.0), returning, *lifts(390.0, 330.0))
    assert at is not None
    assert CRANK[at] == pytest.approx(352.0, abs=2.0)


def test_a_wave_too_weak_is_no_echo():
    leaving = 60e3 * bump(160.0)
    assert echo_arrival(CRANK, leaving, 0.04 * 60e3 * bump(350.0), *lifts(390.0, 330.0)) is None
    assert echo_arrival(CRANK, leaving, 0.06 * 60e3 * bump(350.0), *lifts(390.0, 330.0)) == 350


def test_without_overlap_it_is_looked_for_around_the_change():
    at = echo_arrival(CRANK, 60e3 * bump(160.0), 9e3 * bump(372.0) + 30e3 * bump(250.0), *lifts(355.0, 365.0))
    assert at == 372


@pytest.mark.parametrize("reflection", [-0.8, 0.5])
def test_the_round_trip_is_the_delay_of_the_returning_wave(reflection):
    leaving = 60e3 * bump(160.0, 30.0) - 20e3 * bump(270.0, 20.0) + 8e3 * bump(350.0, 20.0)
    returning = reflection * np.r_[np.roll(leaving[:-1], 74), 0.0]
    returning[-1] = returning[0]
    assert round_trip(leaving, returning, guess=70.0) == pytest.approx(74.0, abs=1.0)


def test_no_trip_is_told_from_what_did_not_come_back():
    leaving = 60e3 * bump(160.0, 30.0)
    assert round_trip(leaving, 0.01 * leaving, guess=70.0) is None
    assert round_trip(leaving, -20e3 * bump(600.0), guess=70.0) is None
