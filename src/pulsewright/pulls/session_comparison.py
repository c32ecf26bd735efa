"""Any two setups of a session compared, with what their order and their number of pulls can show.

read_session_pulls(session) -> compare_setups(session, found, "A", "B") -> SetupComparison
"""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from pulsewright.bench.session import Session
from pulsewright.errors import InputError, UsageError, did_you_mean
from pulsewright.pulls.comparison import REFIT_SCATTER, Comparison, compare
from pulsewright.pulls.free_drift import FreeDrift, free_drift
from pulsewright.pulls.one_way import lag1_autocorrelation, one_way
from pulsewright.pulls.pull_levels import PullLevels
from pulsewright.pulls.pull_power import PullsNeeded, pulls_needed

if TYPE_CHECKING:
    from pulsewright.pulls.session_pulls import SessionPulls, SetupCurves

LEAST_BAND = 150.0  # [rpm] four bins


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SetupComparison:
    """Two setups compared, and the test that compared them."""

    comparison: Comparison
    order: FreeDrift
    pulls: tuple[int, int]  # of each setup
    repeatability_percent: float | None  # of one pull around its setup, drift out, from this session alone
    residual_correlation: float | None  # of every pull's own gain with the next [-]
    more_pulls: PullsNeeded

    def as_json(self) -> dict[str, object]:
        """Plain values with the curve."""
        c = self.comparison
        return {
            **c.as_json(), "pulls": list(self.pulls),
            "curve": c.curve and c.curve.as_json(), "top": c.top and c.top.as_json(),
            "equivalence": c.equivalence and c.equivalence.as_json(), "order": self.order.as_json(),
            "repeatability_percent": self.repeatability_percent and round(self.repeatability_percent, 2),
            "residual_correlation": self.residual_correlation and round(self.residual_correlation, 2),
            "refit": c.refit, "more_pulls": self.more_pulls.as_json(),
        }  # fmt: skip


def compare_setups(
    session: Session,
    found: SessionPulls,
    first: str,
    second: str,
    *,
    band: tuple[float, float] | None = None,
    resolve_percent: float = 1.0,
) -> SetupComparison:
    """Compare two setups over `band` [rpm], the riding band where none is given."""
    for name in (first, second):
        if name not in found.setups:
            raise UsageError(
                f"no pulls of a setup '{name}' in this session", hint=did_you_mean(name, found.setups)
            )
    if first == second:
        raise UsageError("a setup is compared with another one", where=f"{first} {second}")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # bins that no pull reaches are NaN, as meant
        comparison = compare_curves(
            session, found.setups, found.levels, _kept(found), first, second, band or found.riding_band
        )
    names = [found.pulls[k].setup for k in _kept(found)]
    levels, level = found.levels, _heat_out(found.levels, names)
    scatter = one_way(level - levels.order * _place(len(names)), names)
    counts = names.count(first), names.count(second)
    correlation = lag1_autocorrelation(levels.residual) if len(names) > len(levels.setups) + 1 else None
    return SetupComparison(
        comparison=comparison,
        order=free_drift(level, names, first, second),
        pulls=counts,
        repeatability_percent=100.0 * scatter.within_sd if scatter.within_freedom else None,
        residual_correlation=correlation,
        more_pulls=pulls_needed(
            resolve_percent, scatter=levels.scatter, counts=counts, freedom=levels.freedom,
            refit_sd=REFIT_SCATTER * math.sqrt(2.0) if comparison.refit else 0.0,
        ),
    )  # fmt: skip


def compare_curves(
    session: Session,
    setups: dict[str, SetupCurves],
    levels: PullLevels,
    kept: list[int],
    first: str,
    second: str,
    band: tuple[float, float],
) -> Comparison:
    """Compare two setups' curves. kept : which pulls of the session the level model has seen, from 0."""
    drift = dict(zip(kept, levels.drift, strict=True))
    a, b = setups[first], setups[second]
    rpm = np.intersect1d(a.rpm, b.rpm)
    if not ((rpm >= band[0]) & (rpm <= band[1])).sum() * 50.0 > LEAST_BAND:
        raise InputError(
            f"the pulls of {first} and {second} have too few speeds in common in {band[0]:.0f} to "
            f"{band[1]:.0f} rpm",
            hint=f"both reach {rpm[0]:.0f} to {rpm[-1]:.0f} rpm" if rpm.size else "make longer pulls",
        )
    others = [_on(each, rpm, drift) for name, each in setups.items() if name not in (first, second)]
    return compare(
        rpm, _on(a, rpm, drift), _on(b, rpm, drift), names=(first, second), levels=levels, band=band,
        bottom=a.hole.rpm_bottom if a.hole else None, refit=needs_refit(session, first, second),
        others=others,
    )  # fmt: skip


def needs_refit(session: Session, first: str, second: str) -> bool:
    """True where going from one setup to the other took more apart than carburettors, or nobody can tell."""
    a, b = (session.setup(name).setup for name in (first, second))
    if a.carburettors == b.carburettors:
        return True
    return replace(a, name="", assumptions=(), carburettors=()) != replace(
        b, name="", assumptions=(), carburettors=()
    )


def _on(curves: SetupCurves, rpm: np.ndarray, drift: dict[int, float]) -> np.ndarray:
    """Torque of a setup's pulls on common bins, drift taken out. (n_pull, n_bin) NaN where there is none"""
    at = np.searchsorted(curves.rpm, rpm)
    there = np.isin(rpm, curves.rpm)
    level = curves.torques * np.exp(-np.array([drift[k - 1] for k in curves.pulls]))[:, None]
    return np.where(there, level[:, np.minimum(at, curves.rpm.size - 1)], np.nan)


def _kept(found: SessionPulls) -> list[int]:
    return [k for k, used in enumerate(found.used) if used]


def _place(count: int) -> np.ndarray:
    return np.arange(count) - (count - 1) / 2.0


def _heat_out(levels: PullLevels, names: list[str]) -> np.ndarray:
    """Log level of every pull with heat taken out and drift with the order left in. (n_pull,)"""
    own = levels.setup_level[[levels.setups.index(name) for name in names]]
    return own + levels.residual + levels.order * _place(len(names))
