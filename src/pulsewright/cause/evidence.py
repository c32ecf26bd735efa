"""One observation about a session, and what it says of every cause."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from pulsewright.bench.session import SessionSetup
from pulsewright.pulls.session_pulls import SessionPulls
from pulsewright.pulls.setup_curves import SetupCurves


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """One observation; `says` holds log10 of how likely it is under each cause, 0 where a cause is not named.

    0.3 is two to one, 1 ten to one. The sizes are common practice put into numbers (no published source); how far
    they may be trusted together is judged over many simulated sessions, see `verdict`.
    """

    what: str
    says: Mapping[str, float]

    @property
    def supports(self) -> str:
        """The cause that it speaks for most."""
        return max(self.says, key=lambda cause: self.says[cause])

    @property
    def against(self) -> str:
        """The cause that it speaks against most."""
        return min(self.says, key=lambda cause: self.says[cause])

    @property
    def weight(self) -> float:
        """log10 of the odds between the two."""
        return self.says[self.supports] - self.says[self.against]


def mixture_at(curves: SetupCurves, rpm: float) -> float | None:
    """Measured lambda of a setup at a speed, None where it is not known. [-]"""
    known = np.isfinite(curves.mixture)
    if not known.any() or not curves.rpm[known][0] - 50.0 <= rpm <= curves.rpm[known][-1] + 50.0:
        return None
    return float(np.interp(rpm, curves.rpm[known], curves.mixture[known]))


def jets_only(setup: SessionSetup) -> bool:
    """True where a setup differs from what it is based on by the carburettor alone."""
    return _only(setup, "carburettor")


def exhaust_only(setup: SessionSetup) -> bool:
    """True where a setup differs from what it is based on by the exhaust alone."""
    return _only(setup, "exhaust")


def intake_only(setup: SessionSetup) -> bool:
    """True where a setup differs from what it is based on by the intake alone."""
    return _only(setup, "intake")


def _only(setup: SessionSetup, part: str) -> bool:
    return bool(setup.changes) and all(path.startswith(part) for path, _ in setup.changes)


def doubted_sensor(pulls: SessionPulls, setup: str) -> bool:
    """True where outside air may have reached the lambda sensor of a setup."""
    return pulls.sensor_doubted(setup)
