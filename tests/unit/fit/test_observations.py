"""What of a session counts for a fit, by sessions with one fault of a known place."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pulsewright.bench.session import read_session
from pulsewright.errors import InputError
from pulsewright.fit.observations import observations
from pulsewright.physics.weather_correction import j1349
from pulsewright.pulls.finding import Finding
from pulsewright.pulls.session_pulls import read_session_pulls

INVENTED = Path(__file__).parents[3] / "src" / "pulsewright" / "demo" / "session"


@pytest.fixture(scope="module")
def day():
    session = read_session(INVENTED)
    return session, read_session_pulls(session)


def with_finding(pulls, kind: str, **more):
    finding = Finding(kind=kind, evidence="", **{"setup": None, "pull": None, "rpm": None, "strength": 2.0, **more})
    return replace(pulls, findings=(finding,))


def without_findings(pulls):
    return replace(pulls, findings=())


def test_torque_is_that_of_the_air_of_the_pulls(day):
    """Corrected torque divided by the factor of its air is what was read, heat and drift taken out."""
    session, pulls = day
    seen = observations(session, without_findings(pulls))
    o, curves = seen.setups[0], pulls.setups["A"]
    assert o.torque * o.factor == pytest.approx(np.interp(o.rpm, curves.rpm, curves.torque_trend), rel=0.02)
    assert o.setup.air is not None
    dry = o.setup.air.pressure - 0.5 * 2300.0  # about half of saturation at 20 degC
    assert o.factor == pytest.approx(j1349(o.setup.air.temperature, dry), abs=0.003)
    assert o.rpm.size == 15


def test_every_setup_has_its_own_sheet(day):
    session, pulls = day
    seen = observations(session, without_findings(pulls))
    assert [o.name for o in seen.setups] == ["A", "B", "C"]
    assert seen.setups[1].setup.carburettors != seen.setups[0].setup.carburettors
    assert seen.setups[2].setup.exhaust != seen.setups[0].setup.exhaust


def test_an_odd_pull_is_left_out(day):
    session, pulls = day
    number = pulls.setups["A"].pulls[1]
    seen = observations(session, with_finding(pulls, "odd pull", setup="A", pull=number))
    assert number not in seen.setups[0].pulls
    assert len(seen.setups[0].pulls) == len(pulls.setups["A"].pulls) - 1
    assert seen.setups[0].gain_sd > observations(session, without_findings(pulls)).setups[0].gain_sd


def test_a_weak_finding_changes_nothing(day):
    session, pulls = day
    number = pulls.setups["A"].pulls[1]
    seen = observations(session, with_finding(pulls, "odd pull", setup="A", pull=number, strength=0.5))
    assert number in seen.setups[0].pulls


def test_speeds_of_a_misfire_do_not_count(day):
    """In every pull of the setup: the model's engine fires, so torque and lambda there say nothing of it."""
    session, pulls = day
    band = (3000.0, 3600.0)
    found = tuple(
        with_finding(pulls, "misfire", setup="A", pull=n, rpm=band).findings[0] for n in pulls.setups["A"].pulls
    )
    o = observations(session, replace(pulls, findings=found)).setups[0]
    inside = (o.rpm > band[0] + 80.0) & (o.rpm < band[1] - 80.0)
    assert inside.any()
    assert np.isnan(o.torque[inside]).all()
    assert np.isnan(o.mixture[inside]).all()
    outside = (o.rpm < band[0] - 80.0) | (o.rpm > band[1] + 80.0)
    assert np.isfinite(o.torque[outside]).all()


def test_a_doubted_sensor_gives_no_lambda(day):
    session, pulls = day
    seen = observations(session, with_finding(pulls, "dilution", setup="A", rpm=(2000.0, 3500.0)))
    assert np.isnan(seen.setups[0].mixture).all()
    assert np.isfinite(seen.setups[1].mixture).any()
    assert any("outside air" in note for note in seen.notes)


def test_a_session_without_a_usable_pull_is_refused(day):
    session, pulls = day
    found = tuple(
        with_finding(pulls, "slip", setup=p.setup, pull=n, rpm=(0.0, 9000.0)).findings[0]
        for n, p in enumerate(pulls.pulls, start=1)
    )
    with pytest.raises(InputError, match="no pull is left"):
        observations(session, replace(pulls, findings=found))
