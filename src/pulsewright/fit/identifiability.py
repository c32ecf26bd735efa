"""What the pulls can tell of each unknown, and what they cannot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pulsewright.fit.unknowns import FACTOR, Unknown

TELLS, HARDLY = 0.5, 0.2  # share of the prior's spread that the pulls have taken away, at least


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """One unknown before and after the pulls, in its own unit."""

    name: str
    what: str
    unit: str
    source: str
    prior: float
    prior_sd: float
    value: float  # of the best fit
    low: float  # 80 % interval
    high: float
    sd: float
    shrinkage: float  # [-] share of the prior's spread that the pulls took away
    goes_with: str  # the unknown that it can least be told from
    correlation: float

    @property
    def verdict(self) -> str:
        """Whether the pulls tell it, in words."""
        if self.shrinkage >= TELLS:
            return "the pulls tell"
        return "the pulls hardly tell" if self.shrinkage >= HARDLY else "the pulls do not tell"


def learned(unknowns: Sequence[Unknown], best: np.ndarray, covariance: np.ndarray) -> tuple[Learned, ...]:
    """Every unknown with what is known of it, from the best standard numbers (n,) and their covariance (n, n)."""
    sd = np.sqrt(np.diag(covariance))
    correlation = covariance / np.outer(sd, sd) - np.eye(sd.size)
    partner = np.argmax(np.abs(correlation), axis=1)
    rows = []
    for n, u in enumerate(unknowns):
        unit = u.centre * u.spread if u.kind == FACTOR else u.spread
        rows.append(
            Learned(
                name=u.name, what=u.what, unit=u.unit, source=u.source, prior=u.centre, prior_sd=unit,
                value=u.value(best[n]), low=u.value(best[n] - 1.2816 * sd[n]), high=u.value(best[n] + 1.2816 * sd[n]),
                sd=unit * float(sd[n]), shrinkage=max(0.0, 1.0 - float(sd[n])),
                goes_with=unknowns[partner[n]].name, correlation=float(correlation[n, partner[n]]),
            )
        )  # fmt: skip
    return tuple(rows)
