"""Mixture switched off in the burn alone."""

from pathlib import Path

import pytest

from pulsewright.bench.sheet import read_setup
from pulsewright.network.options import Options
from pulsewright.simulate.sweep import sweep

SHEET = Path(__file__).parents[3] / "examples" / "narrow-twin" / "setup.toml"
RPM = 3000.0


def torque(**options) -> float:
    return sweep(read_setup(SHEET), [RPM], Options(grid=2.0, **options))[0].torque


def test_torque_does_not_know_the_mixture_any_more():
    """Within what the fuel's own volume changes in the filling: about 1 % from lambda 0.65 to 1.05."""
    best = torque(mixture=0.85)
    for lambda_ in (0.65, 0.75, 0.95, 1.05):
        assert torque(mixture=lambda_, best_burn=True) == pytest.approx(best, rel=0.015), lambda_
    assert torque(mixture=0.65) < 0.9 * best


def test_it_changes_nothing_at_the_best_mixture():
    assert torque(mixture=0.85, best_burn=True) == pytest.approx(torque(mixture=0.85), rel=1e-6)


def test_the_carburettor_is_left_alone():
    setup = read_setup(SHEET)
    built, best = (sweep(setup, [RPM], Options(grid=2.0, best_burn=flag))[0] for flag in (False, True))
    assert best.torque > 1.02 * built.torque  # this engine runs rich there
    # a stronger burn also sends a stronger wave, which moves the mixture a little
    assert best.lambda_delivered == pytest.approx(built.lambda_delivered, rel=0.08)
