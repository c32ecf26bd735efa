"""The difference of two setups in units, and its still picture."""

import numpy as np
import pytest

from pulsewright.bench.session import read_session
from pulsewright.demo.copy_session import SESSION
from pulsewright.figures.setup_difference import SetupDifference, setup_difference
from pulsewright.figures.setup_difference_chart import setup_difference_chart
from pulsewright.pulls.session_pulls import SessionPulls, read_session_pulls

UNITS = ("N·m", "lambda")


@pytest.fixture(scope="module")
def pulls() -> SessionPulls:
    return read_session_pulls(read_session(SESSION))


@pytest.fixture(scope="module")
def difference(pulls: SessionPulls) -> SetupDifference:
    (found,) = (c for c in pulls.comparisons if c.second == "C")
    return setup_difference(found, pulls.setups["A"], pulls.setups["C"])


def test_it_is_what_lies_between_the_two_mean_curves(pulls: SessionPulls, difference: SetupDifference):
    """Up to the drift of the day, which the comparison takes out in its own way, and to smoothing."""
    a, c = pulls.setups["A"], pulls.setups["C"]
    between = np.interp(difference.rpm, c.rpm, c.torque) - np.interp(difference.rpm, a.rpm, a.torque)
    inside = (difference.rpm > 2300.0) & (difference.rpm < 4500.0)
    assert np.nanmax(np.abs(difference.torque - between)[inside]) < 1.5
    assert np.nanmax(difference.torque[inside]) > 15.0
    mixture = np.interp(difference.rpm, c.rpm, c.mixture) - np.interp(difference.rpm, a.rpm, a.mixture)
    assert np.allclose(difference.mixture, mixture, equal_nan=True)


def test_the_band_lies_round_the_trend(difference: SetupDifference):
    assert difference.band_rpm.size > 40
    assert (difference.low < difference.trend).all()
    assert (difference.trend < difference.high).all()


def test_in_other_units_all_that_is_torque_moves_alike(difference: SetupDifference):
    other = difference.shown_in(0.5, 14.0)
    for name in ("torque", "trend", "low", "high"):
        assert np.allclose(getattr(other, name), 0.5 * getattr(difference, name), equal_nan=True), name
    assert np.allclose(other.mixture, 14.0 * difference.mixture, equal_nan=True)
    assert np.array_equal(other.percent, difference.percent, equal_nan=True)


@pytest.mark.parametrize("width", [720.0, 360.0])
def test_the_picture_names_what_is_less_what(difference: SetupDifference, width: float):
    drawn = setup_difference_chart(difference, UNITS, width=width)
    assert "torque, C \u2212 A, N·m" in drawn
    assert "lambda, C \u2212 A" in drawn
    assert "nan" not in drawn
    assert "leaner" in drawn


def test_without_lambda_there_is_no_axis_for_it(pulls: SessionPulls):
    from dataclasses import replace

    bare = {n: replace(s, mixture=np.full_like(s.mixture, np.nan)) for n, s in pulls.setups.items()}
    found = setup_difference(pulls.comparisons[0], bare["A"], bare[pulls.comparisons[0].second])
    assert not found.has_mixture
    assert "lambda" not in setup_difference_chart(found, UNITS)


def test_where_too_few_speeds_are_in_common_there_is_no_band(pulls: SessionPulls):
    from dataclasses import replace

    found = setup_difference(replace(pulls.comparisons[0], curve=None), pulls.setups["A"], pulls.setups["B"])
    assert found.band_rpm.size == 0
    assert "certainty" not in setup_difference_chart(found, UNITS)
