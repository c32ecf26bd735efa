"""Errors that all setups share, and those of one exhaust, read off from misfits of a known kind.

The expected shares follow from the beliefs alone: with hardly any noise, a misfit that two parts could make is
split as their variances (normal theory, closed form).
"""

import numpy as np
import pytest

from pulsewright.fit.error_curves import ErrorCurves
from pulsewright.fit.evidence import Evidence
from pulsewright.fit.model_error import TORQUE_ERROR, Points

RPM = np.arange(2000.0, 6001.0, 500.0)


def curves(exhausts: tuple[int, ...], misfit: np.ndarray) -> ErrorCurves:
    """Of setups with these exhausts, each measured off the model by its misfit. (setups, speeds)"""
    count, belief = len(exhausts), TORQUE_ERROR
    setup, rpm = np.repeat(np.arange(count), RPM.size), np.tile(RPM, count)
    exhaust, nothing = np.array(exhausts)[setup], np.zeros(rpm.size, bool)
    variance = (
        belief.common**2 + belief.exhaust**2 * np.equal.outer(exhaust, exhaust)
        + belief.own**2 * np.equal.outer(setup, setup)
    )  # fmt: skip
    evidence = Evidence(
        measured=misfit.ravel(), error=belief.alike(rpm, rpm) * variance, noise=np.full(rpm.size, 1e-3),
        freedom=np.inf,
    )  # fmt: skip
    here = Points(
        setup=setup, speed=np.tile(np.arange(RPM.size), count), rpm=rpm, lambda_=nothing, firing=nothing,
        exhaust=exhaust, evidence=evidence,
    )  # fmt: skip
    inverse, values = evidence.precision(evidence.measured)[0], np.zeros((3, rpm.size))
    return ErrorCurves(belief, here, here.torque, inverse, values, np.random.default_rng(1))


def at_bottom(exhausts: tuple[int, ...], misfit: tuple[float, ...], exhaust: int | None = None) -> float:
    dip = np.outer(misfit, np.exp(-(((RPM - 3500.0) / 500.0) ** 2)))
    found, at = curves(exhausts, dip), np.array([2500.0, 3500.0, 4500.0])
    return float((found.common(at) if exhaust is None else found.of_exhaust(at, exhaust))[0, 1])


def test_what_one_exhaust_alone_shows_is_laid_on_it():
    """Two setups with one exhaust lack 6 % at 3500 rpm, one with another lacks nothing."""
    exhausts, misfit = (0, 0, 2), (-0.06, -0.06, 0.0)
    here, there = at_bottom(exhausts, misfit, exhaust=0), at_bottom(exhausts, misfit, exhaust=2)
    assert here == pytest.approx(-there, rel=0.5)
    assert here < -0.01 < 0.01 < there
    assert here - there == pytest.approx(-0.06, abs=0.025)  # 0.02 of 0.0224 against own errors of 0.01


def test_what_all_exhausts_show_is_laid_on_the_model():
    exhausts, misfit = (0, 0, 2), (-0.06, -0.06, -0.06)
    common = at_bottom(exhausts, misfit)
    assert common == pytest.approx(-0.06 * 0.04**2 / (0.04**2 + 0.5 * 0.02**2), abs=0.01)
    assert abs(at_bottom(exhausts, misfit, exhaust=2)) < 0.2 * abs(common)


def test_with_one_exhaust_the_variances_decide():
    common, exhaust = at_bottom((0, 0), (-0.06, -0.06)), at_bottom((0, 0), (-0.06, -0.06), exhaust=0)
    assert exhaust / common == pytest.approx(0.02**2 / 0.04**2, rel=1e-6)
