"""The mixture that the pulls of a setup show, as a curve over engine speed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pulsewright.errors import InputError, did_you_mean
from pulsewright.pulls.session_pulls import SessionPulls
from pulsewright.pulls.trend import trend


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeasuredMixture:
    """Mean lambda of one setup, put back by the sensor's delay and smoothed. Callable: rpm to lambda."""

    setup: str
    rpm: np.ndarray  # (n_bin,) where a reading exists, rising
    mixture: np.ndarray  # (n_bin,) lambda
    pulls: tuple[int, ...]  # session numbers, counting from 1
    doubted: bool = False  # outside air may have reached the sensor: it reads too lean

    def __call__(self, rpm: float) -> float:
        """Lambda at an engine speed; outside the measured range the end values are held."""
        return float(np.interp(rpm, self.rpm, self.mixture))

    @property
    def reach(self) -> tuple[float, float]:
        """Lowest and highest measured speed. [rpm]"""
        return float(self.rpm[0]), float(self.rpm[-1])


def measured_mixture(found: SessionPulls, setup: str | None = None) -> MeasuredMixture:
    """Lambda over speed of the pulls of a setup, by default the baseline.

    What a sensor reads is taken as what the cylinders got: near an open end that is too lean.

    Raises InputError where the setup has no pulls, or they have no lambda.
    """
    name = setup or found.baseline
    curves = found.setups.get(name)
    if curves is None:
        raise InputError(f"no pull of setup '{name}' can be used", hint=did_you_mean(name, found.setups))
    smooth = trend(curves.rpm, curves.mixture)
    there = np.isfinite(smooth) & np.isfinite(curves.mixture)
    if not there.any():
        with_lambda = [other for other, c in found.setups.items() if np.isfinite(c.mixture).any()]
        raise InputError(
            f"the pulls of setup '{name}' have no lambda",
            hint=f"take setup {' or '.join(with_lambda)}" if with_lambda else "give the mixture with --mixture",
        )
    return MeasuredMixture(
        setup=name,
        rpm=curves.rpm[there],
        mixture=smooth[there],
        pulls=curves.pulls,
        doubted=found.sensor_doubted(name),
    )


def trusted_mixture(found: SessionPulls, setup: str | None = None) -> MeasuredMixture | None:
    """The measured mixture where it can be taken for what the cylinders got.

    None where the pulls of the setup have no lambda, or outside air may have reached the sensor.
    """
    name = setup or found.baseline
    if not np.isfinite(found.setups[name].mixture).any() or found.sensor_doubted(name):
        return None
    return measured_mixture(found, name)
