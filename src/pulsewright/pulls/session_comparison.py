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

LEAST_BAND = 200.0  # [rpm] five bins


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SetupComparison:
    """Two setups compared, and the test that compared them."""

    comparison: Comparison
    order: FreeDrift
    pulls: tuple[int, int]  # of each setup
    repeatability_percent: float | None  # of one pull around its setup, drift out, from this session alone
    residual_correlation: float | None  # of every pull's own gain with the next [-]
    more_pulls: PullsNeeded
    notes: tuple[str, ...]

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
            "notes": list(self.notes),
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
            raise UsageError(f"no pulls of a setup '{name}' in this session", hint=did_you_mean(name, found.setups))
    if first == second:
        raise UsageError("a setup is compared with another one", where=f"{first} {second}")
    asked = band or found.riding_band
    inside = _reached(found, first, second, asked)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # bins that no pull reaches are NaN, as meant
        comparison = compare_curves(session, found.setups, found.levels, _kept(found), first, second, inside)
    levels = found.levels
    names, level, place = _band_levels(found, comparison.rpm, comparison.band)
    scatter = one_way(level - levels.order * place, names)
    counts = names.count(first), names.count(second)
    enough = len(levels.residual) > len(levels.setups) + 1
    correlation = lag1_autocorrelation(levels.residual) if enough else None
    return SetupComparison(
        comparison=comparison,
        order=free_drift(level, names, first, second, place=place),
        pulls=counts,
        notes=() if inside == asked else (_cut_note(inside),),
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
    others = [_on(each, rpm, drift) for name, each in setups.items() if name not in (first, second)]
    return compare(
        rpm, _on(a, rpm, drift), _on(b, rpm, drift), names=(first, second), levels=levels, band=band,
        bottom=a.hole.rpm_bottom if a.hole else None, refit=needs_refit(session, first, second),
        others=others,
    )  # fmt: skip


def _reached(found: SessionPulls, first: str, second: str, band: tuple[float, float]) -> tuple[float, float]:
    """The band as far as every pull of both setups reaches. [rpm] Raises InputError where little is left."""
    a, b = found.setups[first], found.setups[second]
    rpm = np.intersect1d(a.rpm, b.rpm)
    held = np.isfinite(np.vstack([_on(each, rpm, {}) for each in (a, b)])).all(axis=0)
    reach = rpm[held]
    low, high = (max(band[0], reach[0]), min(band[1], reach[-1])) if reach.size else (0.0, 0.0)
    if high - low < LEAST_BAND:
        raise InputError(
            f"the pulls of {first} and {second} have too few speeds in common in {band[0]:.0f} to {band[1]:.0f} rpm",
            hint=f"all of them reach {reach[0]:.0f} to {reach[-1]:.0f} rpm" if reach.size else "make longer pulls",
        )
    near = 50.0  # a band that ends inside the last bin is not cut
    return (
        band[0] if low - band[0] < near else float(low),
        band[1] if band[1] - high < near else float(high),
    )


def _cut_note(band: tuple[float, float]) -> str:
    return f"band cut to {band[0]:.0f} to {band[1]:.0f} rpm, as far as every pull of both reaches"


def needs_refit(session: Session, first: str, second: str) -> bool:
    """True where going from one setup to the other took more apart than carburettors, or nobody can tell."""
    a, b = (session.setup(name).setup for name in (first, second))
    if a.carburettors == b.carburettors:
        return True
    return replace(a, name="", assumptions=(), carburettors=()) != replace(b, name="", assumptions=(), carburettors=())


def _on(curves: SetupCurves, rpm: np.ndarray, drift: dict[int, float]) -> np.ndarray:
    """Torque of a setup's pulls on common bins, drift taken out. (n_pull, n_bin) NaN where there is none"""
    at = np.searchsorted(curves.rpm, rpm)
    there = np.isin(rpm, curves.rpm)
    level = curves.torques * np.exp(-np.array([drift.get(k - 1, 0.0) for k in curves.pulls]))[:, None]
    return np.where(there, level[:, np.minimum(at, curves.rpm.size - 1)], np.nan)


def _kept(found: SessionPulls) -> list[int]:
    return [k for k, used in enumerate(found.used) if used]


def _place(count: int) -> np.ndarray:
    return np.arange(count) - (count - 1) / 2.0


def _band_levels(
    found: SessionPulls, rpm: np.ndarray, band: tuple[float, float]
) -> tuple[list[str], np.ndarray, np.ndarray]:
    """Setup, log level over the band with heat taken out, and place in the day, of every pull that holds the
    band. (n_pull,) each"""
    bins = rpm[(rpm >= band[0]) & (rpm <= band[1])]
    kept = _kept(found)
    place = _place(len(kept))
    heat = dict(zip(kept, found.levels.drift - found.levels.order * place, strict=True))
    rows: dict[int, tuple[str, float]] = {}
    for name, curves in found.setups.items():
        torques = _on(curves, bins, heat)
        for number, row in zip(curves.pulls, torques, strict=True):
            rows[number - 1] = name, float(np.log(row).mean())
    use = [n for n, k in enumerate(kept) if np.isfinite(rows[k][1])]
    return (
        [rows[kept[n]][0] for n in use],
        np.array([rows[kept[n]][1] for n in use]),
        place[use],
    )
