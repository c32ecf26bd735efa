"""What one setup does to another over engine speed: torque and mixture of the second less those of the first.

The difference in per cent and its band are those of the comparison (pulls/comparison.py), which takes heat and drift
out and holds the whole curve; here they are put on the smooth torque of the first setup, so that they read in
newton metres.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from pulsewright.pulls.comparison import Comparison
from pulsewright.pulls.setup_curves import SetupCurves


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SetupDifference:
    """Second less first. Torque in N m and mixture in lambda until `shown_in` puts them into other units."""

    first: str
    second: str
    sentence: str
    riding_band: tuple[float, float]  # [rpm]
    rpm: np.ndarray  # (n,) speeds that both setups have
    torque: np.ndarray  # (n,) unsmoothed
    percent: np.ndarray  # (n,) of the first setup's torque, unsmoothed
    mixture: np.ndarray  # (n,) nan where one of them has no lambda
    band_rpm: np.ndarray  # (m,) speeds of the band; none where the two have too few in common
    trend: np.ndarray  # (m,) torque, smooth
    low: np.ndarray  # (m,) torque, the 95 % band that holds the whole curve
    high: np.ndarray  # (m,)

    @property
    def has_mixture(self) -> bool:
        """Whether both setups have a lambda somewhere."""
        return bool(np.isfinite(self.mixture).any())

    def shown_in(self, torque: float, mixture: float) -> SetupDifference:
        """The same in units of which one newton metre is `torque` and one lambda is `mixture`."""
        scaled = {name: torque * getattr(self, name) for name in ("torque", "trend", "low", "high")}
        return replace(self, **scaled, mixture=mixture * self.mixture)


def setup_difference(comparison: Comparison, first: SetupCurves, second: SetupCurves) -> SetupDifference:
    """The comparison of two setups' curves in newton metres, with the difference of lambda beside it."""
    c, over = comparison, comparison.curve
    level = np.interp(c.rpm, first.rpm, first.torque_trend)
    within = over.rpm if over else np.empty(0)
    unit = 0.01 * np.interp(within, first.rpm, first.torque_trend)
    empty = np.empty(0)
    return SetupDifference(
        first=c.first, second=c.second, sentence=c.text, riding_band=c.band, rpm=c.rpm,
        torque=0.01 * c.curve_percent * level, percent=c.curve_percent,
        mixture=_at(second, c.rpm) - _at(first, c.rpm), band_rpm=within,
        trend=unit * over.percent if over else empty, low=unit * over.low if over else empty,
        high=unit * over.high if over else empty,
    )  # fmt: skip


def _at(curves: SetupCurves, rpm: np.ndarray) -> np.ndarray:
    """Lambda of a setup in the bins of a comparison, which are among its own. (n,)"""
    return curves.mixture[np.searchsorted(curves.rpm, rpm)]
