"""Unknowns and their standard numbers."""

import math

import numpy as np
import pytest

from pulsewright.fit.fit_session import prior_of
from pulsewright.fit.identifiability import learned
from pulsewright.fit.unknowns import FACTOR, NAMES, UNKNOWNS, calibration_of, unknowns_of, values_of
from pulsewright.network.calibration import Calibration


@pytest.mark.parametrize("unknown", UNKNOWNS, ids=NAMES)
def test_every_unknown_has_what_a_reader_needs(unknown):
    assert unknown.what
    assert unknown.source
    assert unknown.spread > 0.0
    assert unknown.low < unknown.centre < unknown.high
    assert unknown.value(unknown.standard(unknown.centre + 0.3 * unknown.spread)) == pytest.approx(
        unknown.centre + 0.3 * unknown.spread
    )


def test_one_standard_number_is_one_spread():
    for u in UNKNOWNS:
        one = u.centre * math.exp(u.spread) if u.kind == FACTOR else u.centre + u.spread
        assert u.value(1.0) == pytest.approx(min(one, u.high))


def test_every_coefficient_reaches_the_calibration():
    """Moved by a tenth of a spread, every unknown of the model changes the calibration."""
    base = calibration_of(values_of(np.zeros(len(UNKNOWNS))), (2000.0, 6000.0))
    for n, u in enumerate(UNKNOWNS):
        z = np.zeros(len(UNKNOWNS))
        z[n] = -0.1
        assert (calibration_of(values_of(z), (2000.0, 6000.0)) != base) == (u.belongs == "model"), u.name
    assert isinstance(base, Calibration)


def test_a_wheel_reads_less_than_the_crank():
    gain = {at: next(u for u in unknowns_of(at) if u.name == "gain").centre for at in ("engine", "wheel")}
    assert gain["engine"] == 1.0
    assert 0.85 <= gain["wheel"] <= 0.95


def test_limits_in_standard_numbers_are_those_of_the_values():
    prior = prior_of(UNKNOWNS)
    for n, u in enumerate(UNKNOWNS):
        assert u.low - 1e-12 <= u.value(prior.low[n]) <= u.value(prior.high[n]) <= u.high + 1e-12
        assert -3.0 <= prior.low[n] < 0.0 < prior.high[n] <= 3.0


def test_the_report_says_what_pulls_tell():
    """Covariance 1 = nothing learned; 0.25 = half of the spread gone; 0.0025 = nearly all."""
    two = UNKNOWNS[:3]
    covariance = np.array([[1.0, 0.4, 0.0], [0.4, 0.25, 0.0], [0.0, 0.0, 0.49]])
    rows = learned(two, np.zeros(3), covariance)
    assert [row.verdict for row in rows] == ["the pulls do not tell", "the pulls tell", "the pulls hardly tell"]
    assert rows[0].goes_with == two[1].name
    assert rows[0].correlation == pytest.approx(0.8)
    assert rows[1].sd == pytest.approx(0.5 * rows[1].prior_sd)
    assert rows[1].low < rows[1].value < rows[1].high
