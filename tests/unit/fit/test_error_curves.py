"""Errors that all setups share, and those of one exhaust or of jets of one size, read off from misfits of a known kind.

The expected shares follow from the beliefs alone: with hardly any noise, a misfit that two parts could make is
split as their variances (normal theory, closed form).
"""

from pathlib import Path

import numpy as np
import pytest

from pulsewright.bench.changes import changed_text
from pulsewright.bench.sheet import setup_from_text
from pulsewright.fit.error_curves import ErrorCurves, sizes_about
from pulsewright.fit.evidence import Evidence
from pulsewright.fit.model_error import LAMBDA_ERROR, TORQUE_ERROR, ErrorBelief, Points, jet_size

TWIN = Path(__file__).parents[3] / "examples" / "narrow-twin" / "setup.toml"
RPM = np.arange(2000.0, 6001.0, 500.0)


def curves(
    exhausts: tuple[int, ...], misfit: np.ndarray, belief: ErrorBelief = TORQUE_ERROR, jets: tuple[float, ...] = ()
) -> ErrorCurves:
    """Of setups with these exhausts and jets, each measured off the model by its misfit. (setups, speeds)"""
    count = len(exhausts)
    setup, rpm = np.repeat(np.arange(count), RPM.size), np.tile(RPM, count)
    exhaust, size = np.array(exhausts)[setup], np.array(jets or (0.0,) * count)[setup]
    variance = (
        belief.common**2 + belief.exhaust**2 * np.equal.outer(exhaust, exhaust)
        + belief.own**2 * np.equal.outer(setup, setup)
    )  # fmt: skip
    error = belief.alike(rpm, rpm) * variance + belief.jets**2 * belief.alike_in_jets(size, size)
    evidence = Evidence(measured=misfit.ravel(), error=error, noise=np.full(rpm.size, 1e-3), freedom=np.inf)
    here = Points(
        setup=setup, speed=np.tile(np.arange(RPM.size), count), rpm=rpm, lambda_=np.zeros(rpm.size, bool),
        exhaust=exhaust, jets=size, evidence=evidence,
    )  # fmt: skip
    inverse, values = evidence.precision(evidence.measured)[0], np.zeros((3, rpm.size))
    return ErrorCurves(belief, here, ~here.lambda_, inverse, values, np.random.default_rng(1))


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


def test_what_one_size_of_jets_shows_is_laid_on_it_and_goes_with_it():
    """Two setups on one exhaust; on the smaller jets lambda is read 2 % richer than the model says, at every speed."""
    small, large = jet_size_of("1.9 mm"), jet_size_of("2.2 mm")
    misfit = np.outer((-0.02, 0.0), np.ones_like(RPM))
    found = curves((0, 0), misfit, LAMBDA_ERROR, (small, large))
    between = 0.5 * (small + large)
    on_small, on_large, middle, much_larger = found.of_jets(np.array([small, large, between, large + 1.0]))[0]
    assert on_small - on_large == pytest.approx(-0.02, abs=0.003)  # else it is each setup's own, which varies by speed
    assert abs(middle) < 0.75 * max(abs(on_small), abs(on_large))
    assert abs(much_larger) < 1e-6
    own = found.of_exhaust(RPM, 0)[0]
    assert np.max(np.abs(own)) < 0.01


def test_draws_are_as_far_apart_as_jets_that_were_never_pulled_may_be():
    """Where nothing is known a draw strays by the belief; where jets were pulled by much less."""
    here = curves((0,) * 2, np.zeros((2, RPM.size)), LAMBDA_ERROR, (0.0, 0.0))
    sizes = sizes_about(np.zeros(2))
    draws = np.vstack([here.of_jets(sizes)[1:] for _ in range(400)])
    pulled = draws[:, sizes.size // 2]
    assert np.std(draws[:, 0]) == pytest.approx(LAMBDA_ERROR.jets, rel=0.15)
    assert np.std(pulled) < 0.6 * LAMBDA_ERROR.jets


def jet_size_of(main: str) -> float:
    text = changed_text(TWIN.read_text(encoding="utf-8"), [("carburettor.1.main_jet", main)], where="twin")
    return jet_size(setup_from_text(text, "twin", lines=False))
