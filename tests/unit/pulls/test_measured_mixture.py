"""The mixture curve that the model can be given in place of the carburettor."""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from pulsewright.errors import InputError
from pulsewright.pulls.measured_mixture import measured_mixture

RPM = np.arange(2000.0, 4001.0, 50.0)


def found(doubted: str = "", **curves: np.ndarray) -> Any:
    """What `measured_mixture` looks at, the first setup being the baseline."""
    setups = {name: SimpleNamespace(rpm=RPM, mixture=mixture, pulls=(1, 2)) for name, mixture in curves.items()}
    return SimpleNamespace(setups=setups, baseline=next(iter(setups)), sensor_doubted=lambda name: name == doubted)


def test_a_straight_curve_is_kept_and_its_ends_are_held():
    line = 0.8 + 0.1 * (RPM - 2000.0) / 2000.0
    curve = measured_mixture(found(A=line, B=line + 0.1))
    assert curve.setup == "A"
    assert curve(3000.0) == pytest.approx(0.85, abs=1e-6)
    assert curve(500.0) == pytest.approx(0.8, abs=1e-6)
    assert curve(9000.0) == pytest.approx(0.9, abs=1e-6)
    assert curve.reach == (2000.0, 4000.0)
    assert measured_mixture(found(A=line, B=line + 0.1), "B")(3000.0) == pytest.approx(0.95, abs=1e-6)


def test_only_what_was_measured_counts():
    part = np.where(RPM < 2500.0, np.nan, 0.88)
    curve = measured_mixture(found(A=part))
    assert curve.reach == (2500.0, 4000.0)
    assert curve(2100.0) == pytest.approx(0.88)


def test_a_doubted_sensor_is_told():
    line = np.full(RPM.shape, 0.9)
    assert measured_mixture(found("A", A=line)).doubted
    assert not measured_mixture(found("B", A=line)).doubted


def test_what_is_not_there_is_told():
    none = np.full(RPM.shape, np.nan)
    with pytest.raises(InputError, match="no pull of setup 'C'"):
        measured_mixture(found(A=none), "C")
    with pytest.raises(InputError, match="no lambda") as error:
        measured_mixture(found(A=none, B=np.full(RPM.shape, 0.9)))
    assert error.value.hint is not None
    assert "B" in error.value.hint
