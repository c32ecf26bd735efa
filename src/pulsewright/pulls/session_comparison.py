"""Any two setups of a session compared, with what their order and their number of pulls can show.

read_session_pulls(session) -> compare_setups(session, found, "A", "B") -> SetupComparison
"""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from pulsewright.bench.session import Session
from pulsewright.errors import InputError, UsageError, did_you_mean
from pulsewright.pulls.comparison import Comparison, compare
from pulsewright.pulls.free_drift import FreeDrift, free_drift
from pulsewright.pulls.level_difference import LevelDifference, level_difference
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
            "drift": _drift(c.level),
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
    day = _session_day(found, comparison)
    scatter = one_way(day.level - comparison.level.drift * day.place, day.setup)
    order = free_drift(day.level, day.setup, first, second, place=day.place.astype(float))
    return SetupComparison(
        comparison=comparison,
        order=order,
        pulls=(day.setup.count(first), day.setup.count(second)),
        notes=_notes(found, comparison, asked),
        repeatability_percent=100.0 * scatter.within_sd if scatter.within_freedom else None,
        residual_correlation=_next_alike(found.levels),
        more_pulls=pulls_needed(
            resolve_percent, _letters(day.setup, first, second), scatter=comparison.level.gain,
            freedom=comparison.level.freedom, refit_sd=comparison.level.refit * math.sqrt(2.0),
        ),
    )  # fmt: skip


def _drift(level: LevelDifference) -> dict[str, object]:
    sizes = {"percent": level.drift, "sd": level.drift_sd}
    return {"free": level.drift_free, **{key: round(100.0 * value, 3) for key, value in sizes.items()}}


def _next_alike(levels: PullLevels) -> float | None:
    """Correlation of every pull's own gain with the next; None with too few pulls. [-]"""
    return lag1_autocorrelation(levels.residual) if len(levels.residual) > len(levels.setups) + 1 else None


def _letters(setup: list[str], first: str, second: str) -> str:
    """One letter a pull: A and B of the two compared, others from C on as they come."""
    letters = {first: "A", second: "B"}
    for name in setup:
        letters.setdefault(name, chr(ord("A") + len(letters)))
    return "".join(letters[name] for name in setup)


def compare_curves(
    session: Session,
    setups: dict[str, SetupCurves],
    levels: PullLevels,
    kept: list[int],
    first: str,
    second: str,
    band: tuple[float, float],
) -> Comparison:
    """Compare two setups' curves. kept : which pulls of the session are used, from 0; levels : of these."""
    a, b = setups[first], setups[second]
    rpm = np.intersect1d(a.rpm, b.rpm)
    rows = {name: _on(each, rpm) for name, each in setups.items()}
    use = _held(rpm, np.vstack([rows[first], rows[second]]), band)
    day = _day(setups, {name: np.log(each[:, use]).mean(axis=1) for name, each in rows.items()}, kept)
    refit = needs_refit(session, first, second)
    return compare(
        rpm, rows.pop(first), rows.pop(second), names=(first, second), band=band, refit=refit,
        level=level_difference(
            day.level, day.setup, (first, second), head=levels.head[day.place], place=day.place.astype(float),
            assembly=_assemblies(session, day.setup) if refit else None,
        ),
        bottom=a.hole.rpm_bottom if a.hole and a.hole.repeats else None, others=list(rows.values()),
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Day:
    """Pulls that hold a band, in the order in which they were made."""

    place: np.ndarray  # (n_pull,) among the pulls that are used, from 0
    setup: list[str]
    level: np.ndarray  # (n_pull,) log torque, mean over the band


def _day(setups: dict[str, SetupCurves], level: dict[str, np.ndarray], kept: list[int]) -> _Day:
    rows = sorted(
        (kept.index(number - 1), name, float(value))
        for name, curves in setups.items()
        for number, value in zip(curves.pulls, level[name], strict=True)
        if np.isfinite(value)
    )
    place, setup, values = zip(*rows, strict=True)
    return _Day(place=np.array(place), setup=list(setup), level=np.array(values))


def _session_day(found: SessionPulls, comparison: Comparison) -> _Day:
    """Pulls of the session that hold the band compared, heat taken out of their levels."""
    rpm, (low, high) = comparison.rpm, comparison.band
    bins = rpm[(rpm >= low) & (rpm <= high)]
    kept = _kept(found)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # bins that no pull reaches are NaN, as meant
        day = _day(found.setups, {n: np.log(_on(c, bins)).mean(axis=1) for n, c in found.setups.items()}, kept)
    heat = found.levels.drift - found.levels.order * (np.arange(len(kept)) - (len(kept) - 1) / 2.0)
    return replace(day, level=day.level - heat[day.place])


def _held(rpm: np.ndarray, torques: np.ndarray, band: tuple[float, float]) -> np.ndarray:
    """Bins of the band that all these pulls hold. (n_bin,) bool. Raises InputError where there is none."""
    use = np.isfinite(torques).all(axis=0) & (rpm >= band[0]) & (rpm <= band[1])
    if not use.any():
        raise InputError(
            f"no engine speed in {band[0]:.0f} to {band[1]:.0f} rpm is held by all pulls that are compared",
            hint="leave out the pull that is too short, or choose another band",
        )
    return use


def _assemblies(session: Session, setup: list[str]) -> np.ndarray:
    """Number of the assembly that each pull was made with: a new one where more than carburettors changed."""
    new = [a != b and needs_refit(session, a, b) for a, b in pairwise(setup)]
    return np.cumsum([0, *new])


def _reached(found: SessionPulls, first: str, second: str, band: tuple[float, float]) -> tuple[float, float]:
    """The band as far as every pull of both setups reaches. [rpm] Raises InputError where little is left."""
    a, b = found.setups[first], found.setups[second]
    rpm = np.intersect1d(a.rpm, b.rpm)
    held = np.isfinite(np.vstack([_on(each, rpm) for each in (a, b)])).all(axis=0)
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


def _notes(found: SessionPulls, comparison: Comparison, asked: tuple[float, float]) -> tuple[str, ...]:
    low, high = comparison.band
    notes = []
    if comparison.band != asked:
        notes.append(f"band cut to {low:.0f} to {high:.0f} rpm, as far as every pull of both reaches")
    if not comparison.level.drift_free:
        notes.append(
            "these pulls cannot tell a drift from a change: drift is believed to be 0.2 % a pull at most times; "
            "two pulls of each in the order A-B-B-A can tell"
        )
    hole = found.setups[comparison.first].hole
    if hole is not None and not hole.repeats:
        notes.append(
            f"a dip of {comparison.first} at {hole.rpm_bottom:.0f} rpm was seen once and is not counted as a hole"
        )
    return tuple(notes)


def needs_refit(session: Session, first: str, second: str) -> bool:
    """True where going from one setup to the other took more apart than carburettors, or nobody can tell."""
    a, b = (session.setup(name).setup for name in (first, second))
    if a.carburettors == b.carburettors:
        return True
    return replace(a, name="", assumptions=(), carburettors=()) != replace(b, name="", assumptions=(), carburettors=())


def _on(curves: SetupCurves, rpm: np.ndarray) -> np.ndarray:
    """Torque of a setup's pulls on common bins. (n_pull, n_bin) NaN where there is none"""
    at = np.searchsorted(curves.rpm, rpm)
    there = np.isin(rpm, curves.rpm)
    return np.where(there, curves.torques[:, np.minimum(at, curves.rpm.size - 1)], np.nan)


def _kept(found: SessionPulls) -> list[int]:
    return [k for k, used in enumerate(found.used) if used]
