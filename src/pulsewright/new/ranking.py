"""What each unknown costs in certainty: every value in doubt is moved by its doubt, and the model says what follows.

Each unknown moves alone, up and down by one standard deviation, at level drag, every design started from where the
sheet's own came to rest; what does under 1 % of torque one way is not asked the other way. What torque does is half of
the difference of the two. Unknowns are taken as independent and their effects as straight, so that they add as root
of squares (JCGM 100:2008, 5.1).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from pulsewright.bench.session import RIDING_BAND
from pulsewright.bench.setup import Setup
from pulsewright.bench.sheet import setup_from_text
from pulsewright.fit.unknowns import COEFFICIENTS, FACTOR, Unknown
from pulsewright.network.calibration import NOMINAL, Calibration
from pulsewright.network.case import Case
from pulsewright.network.options import Options
from pulsewright.new.varied import Value, moved, values_in_doubt
from pulsewright.pulls.hole import LEAST_DEPTH, deepest_place
from pulsewright.simulate.fidelity import DRAG
from pulsewright.simulate.load_kernels import load_kernels
from pulsewright.simulate.sweep import sweep
from pulsewright.simulate.warm_start import Path, Rest

FORMAT = "pulsewright ranking 1"
SPEEDS = 11
BEYOND = 250.0  # [rpm] on both sides of the band, so that a hole near its edge has a shoulder
FINE = 10.0  # [rpm] in which the hole's place is read off a smooth curve
SMALL = 0.01  # [-] of torque; what does less one way is not asked the other way
PLAIN = ("key", "what", "known_by", "value", "doubt", "source", "how")
ASSUMED, MEASURED, PULLS = "assumed", "measured", "pulls"

Machine = tuple[Setup, Calibration]
Step = Callable[[int, int, str], None]  # unknowns done, in all, what comes next


class FirstRests(Path):
    """Starts every design from where the first one came to rest, whatever came between."""

    def __init__(self) -> None:
        super().__init__()
        self._first: set[float] = set()

    def keep(self, case: Case, rest: Rest) -> None:
        if rest.rpm not in self._first:
            self._first.add(rest.rpm)
            super().keep(case, rest)

    def forget(self, rpm: float) -> None:
        """Nothing is forgotten: a design that does not come to rest takes nothing away from the next."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unsure:
    """One thing that is not known for certain, and the machine with it moved."""

    key: str
    what: str
    known_by: str  # ASSUMED, MEASURED or PULLS: only pulls tell
    value: str
    doubt: str  # one standard deviation
    source: str  # of the doubt
    how: str  # to find it out
    moved: Callable[[float], Machine | None]  # by so many standard deviations; None where it cannot be


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """What one unknown costs."""

    unsure: Unsure
    torque: np.ndarray  # relative, (speeds,); nan where the model gave no answer
    torque_rms: float  # [-] over the riding band
    hole_rpm: float  # [rpm] how far the hole moves; nan without a hole


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranking:
    """All unknowns, the dearest first."""

    band: tuple[float, float]  # [rpm]
    rpm: np.ndarray
    torque_nm: np.ndarray
    hole: float  # [rpm] where the sheet's own curve has its hole; nan without one
    costs: tuple[Cost, ...]

    @property
    def torque_rms(self) -> float:
        """All unknowns together, of torque over the band. [-]"""
        return math.sqrt(sum(c.torque_rms**2 for c in self.costs))

    @property
    def hole_rpm(self) -> float:
        """All unknowns together, of the hole's place; nan without a hole. [rpm]"""
        moves = [c.hole_rpm for c in self.costs if math.isfinite(c.hole_rpm)]
        return math.sqrt(sum(move**2 for move in moves)) if moves else math.nan

    def share(self, cost: Cost) -> float:
        """Of the doubt about torque that an unknown makes, in squares. [-]"""
        return (cost.torque_rms / self.torque_rms) ** 2 if self.torque_rms else 0.0

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "format": FORMAT,
            "band_rpm": list(self.band),
            "rpm": self.rpm,
            "torque_nm": self.torque_nm,
            "hole_rpm": self.hole,
            "together": {"torque_percent": 100.0 * self.torque_rms, "hole_rpm": self.hole_rpm},
            "unknowns": [
                {
                    **{name: getattr(c.unsure, name) for name in PLAIN},
                    "torque_percent": 100.0 * c.torque_rms,
                    "hole_rpm": c.hole_rpm,
                    "share": self.share(c),
                    "torque_percent_at_rpm": 100.0 * c.torque,
                }
                for c in self.costs
            ],
        }


def rank(text: str, *, band: tuple[float, float] = RIDING_BAND, step: Step | None = None) -> Ranking:
    """Rank the unknowns of a sheet, given as TOML text, by what they do to torque in the riding band [rpm]."""
    setup = setup_from_text(text, "the sheet", lines=False)
    model = _Model(tuple(float(x) for x in np.linspace(band[0] - BEYOND, band[1] + BEYOND, SPEEDS).round()))
    base = model.torque((setup, NOMINAL))
    unknowns = [*(_on_the_sheet(text, setup, v) for v in values_in_doubt(text, setup)), *_in_the_model(setup)]
    costs = []
    for number, unsure in enumerate(unknowns):
        if step is not None:
            step(number, len(unknowns), unsure.what)
        cost = _cost(unsure, model, base, band)
        costs += [cost] if cost is not None else []
    costs.sort(key=lambda c: -c.torque_rms)
    return Ranking(
        band=band, rpm=np.array(model.speeds), torque_nm=base, hole=hole_of(model.speeds, base), costs=tuple(costs)
    )


def hole_of(speeds: Sequence[float], torque: np.ndarray) -> float:
    """Place of the hole on a curve, read off a smooth line through it; nan where there is none. [rpm]"""
    from scipy.interpolate import CubicSpline

    known = np.isfinite(torque)
    if known.sum() < 5:
        return math.nan
    at = np.array(speeds)[known]
    fine = np.arange(at[0], at[-1] + 0.5 * FINE, FINE)
    place = deepest_place(fine, CubicSpline(at, torque[known])(fine))
    return float(fine[place.bottom]) if place is not None and place.depth >= LEAST_DEPTH else math.nan


@dataclass(slots=True)
class _Model:
    """The model at a few speeds, quick and coarse."""

    speeds: tuple[float, ...]
    path: FirstRests | None = None

    def torque(self, machine: Machine) -> np.ndarray:
        """[N m] at the speeds; nan where a run failed."""
        setup, calibration = machine
        options = Options(grid=DRAG.grid, calibration=calibration)
        if self.path is None:
            self.path = FirstRests()
            load_kernels(setup, options)
        points = sweep(setup, self.speeds, options, within=DRAG.within, path=self.path)
        return np.array([p.torque for p in points])


def _on_the_sheet(text: str, setup: Setup, value: Value) -> Unsure:
    def machine(way: float) -> Machine | None:
        other = moved(text, value, setup, way)
        return (other, NOMINAL) if other is not None else None

    return Unsure(
        key=value.key,
        what=value.doubt.what,
        known_by=ASSUMED if value.assumed else MEASURED,
        value=value.written,
        doubt=value.half_width,
        source=value.doubt.source,
        how=value.doubt.how,
        moved=machine,
    )


def _in_the_model(setup: Setup) -> Iterator[Unsure]:
    for u in COEFFICIENTS:
        yield Unsure(
            key=f"model.{u.name}",
            what=u.what,
            known_by=PULLS,
            value=f"{getattr(NOMINAL, u.name):g}",
            doubt=f"{u.spread:.0%}" if u.kind == FACTOR else f"{u.spread:g}",
            source=u.source,
            how="pulls, and `pulsewright fit`",
            moved=lambda way, u=u: (setup, shifted(u, way)),
        )


def shifted(unknown: Unknown, way: float) -> Calibration:
    """The nominal model with one coefficient moved by `way` spreads of its prior, within its limits."""
    nominal = getattr(NOMINAL, unknown.name)
    raw = nominal * math.exp(way * unknown.spread) if unknown.kind == FACTOR else nominal + way * unknown.spread
    return replace(NOMINAL, **{unknown.name: min(max(raw, unknown.low), unknown.high)})


def _cost(unsure: Unsure, model: _Model, base: np.ndarray, band: tuple[float, float]) -> Cost | None:
    """Both ways, or one where the other cannot be or the first shows next to nothing."""
    ends = [base, base]
    asked = 0
    for side, way in enumerate((1.0, -1.0)):
        machine = unsure.moved(way)
        if machine is None or (asked and _rms(ends[0] / base - 1.0, model.speeds, band) < SMALL):
            continue
        ends[side] = model.torque(machine)
        asked += 1
    if not asked:
        return None
    torque = (ends[0] - ends[1]) / base / asked
    apart = abs(hole_of(model.speeds, ends[0]) - hole_of(model.speeds, ends[1])) / asked
    return Cost(unsure=unsure, torque=torque, torque_rms=_rms(torque, model.speeds, band), hole_rpm=apart)


def _rms(torque: np.ndarray, speeds: Sequence[float], band: tuple[float, float]) -> float:
    """Over the speeds of the band at which there is an answer; nan without one. [-]"""
    rpm = np.array(speeds)
    inside = torque[(rpm >= band[0]) & (rpm <= band[1]) & np.isfinite(torque)]
    return float(np.sqrt(np.mean(inside**2))) if inside.size else math.nan
