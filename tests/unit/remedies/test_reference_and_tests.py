"""What the pulls let know of lambda near their upper end, and which test comes first where a finding stands."""

from dataclasses import replace

import numpy as np
import pytest
from tests import dyno_days as days

from pulsewright.bench.session import Session, read_session
from pulsewright.pulls.finding import Finding
from pulsewright.pulls.session_pulls import SessionPulls, read_session_pulls
from pulsewright.remedies.catalogue import general_catalogue
from pulsewright.remedies.next_pull import measuring_tests
from pulsewright.remedies.reference import ABOVE, BRIDGED, reference_of


@pytest.fixture(scope="module")
def day(tmp_path_factory: pytest.TempPathFactory) -> tuple[Session, SessionPulls]:
    session = read_session(days.healthy_day(5).write(tmp_path_factory.mktemp("day")))
    return session, read_session_pulls(session)


def without_lambda(pulls: SessionPulls, of: float) -> SessionPulls:
    """As if the last stretch of every pull had no lambda; speeds stretched so that a bike's range is reached."""
    a = pulls.setups["A"]
    rpm = a.rpm * 9000.0 / a.rpm[-1]
    mixture = np.where(rpm > 9000.0 - of, np.nan, 0.85)
    return replace(pulls, setups={**pulls.setups, "A": replace(a, rpm=rpm, mixture=mixture)})


def test_a_sensor_that_is_late_at_the_end_leaves_lambda_known_above(day: tuple[Session, SessionPulls]):
    """A late sensor loses the last stretch of a pull; 5 % of 9000 rpm above it must not make lambda unknown."""
    session, pulls = day
    found = reference_of(session, without_lambda(pulls, 100.0), "A")
    assert ABOVE * 9000.0 > BRIDGED  # else this shows nothing
    assert found.mixture_known.all()
    assert found.mixture_sd[-1] > 3.0 * found.mixture_sd[len(found.rpm) // 2]


def test_a_longer_stretch_without_readings_is_unknown(day: tuple[Session, SessionPulls]):
    session, pulls = day
    found = reference_of(session, without_lambda(pulls, 600.0), "A")
    assert not found.mixture_known[-1]
    assert found.mixture_unknown


@pytest.mark.parametrize("kind", ["dilution", "heat soak", "slip"])
def test_what_was_found_is_put_right_before_anything_is_repeated(day: tuple[Session, SessionPulls], kind: str):
    finding = Finding(kind=kind, evidence="", setup=None, pull=None, rpm=None, strength=2.0)
    catalogue = general_catalogue()
    tests = measuring_tests(catalogue, replace(day[1], findings=(finding,)), "measurement", {"measurement": 0.9})
    answering = [t.do for t in catalogue.tests if t.finding == kind]
    assert answering
    assert tests[0].do in answering
    assert len(tests) > len(answering)
