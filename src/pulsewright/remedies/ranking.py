"""Which changes stand out: cures for the verdict, the Pareto front, and an order to read them in."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from pulsewright.cause.causes import (
    EXHAUST_WAVE,
    INTAKE_WAVE,
    MIXTURE_LEAN,
    MIXTURE_RICH,
    RESTRICTION,
)
from pulsewright.remedies.candidates import STOCK, Candidate
from pulsewright.remedies.catalogue import EXHAUST, FUEL, INTAKE, PULLED, TO_BUY
from pulsewright.remedies.change_rows import Rows
from pulsewright.remedies.forecast import Forecast
from pulsewright.remedies.gates import Refusal
from pulsewright.remedies.reference import Reference

# What a verdict lets us recommend. For every other verdict no part is the cure: measure, test, or leave it.
CURES: dict[str, tuple[frozenset[str], ...]] = {
    EXHAUST_WAVE: (frozenset({EXHAUST}), frozenset({EXHAUST, FUEL}), frozenset({EXHAUST, INTAKE})),
    INTAKE_WAVE: (frozenset({INTAKE}), frozenset({INTAKE, FUEL}), frozenset({EXHAUST}), frozenset({EXHAUST, INTAKE})),
    MIXTURE_RICH: (frozenset({FUEL}),),
    MIXTURE_LEAN: (frozenset({FUEL}),),
    RESTRICTION: (frozenset({EXHAUST}), frozenset({INTAKE}), frozenset({EXHAUST, INTAKE})),
}
REFUSED, OTHER, NO_GAIN, POSSIBLE, FRONT = "refused", "not for this cause", "no sure gain", "possible", "recommended"
MOST_SHOWN = 5

# An exchange, to put the front in an order (ours): what a per cent of torque in the riding band is worth.
TOP_WORTH = 0.5  # per cent lost at the top, against one in the riding band
HOUR_WORTH = 0.5  # per cent for an hour of work
WAIT_WORTH = 1.0  # per cent for a part that has to be bought
FOREVER_WORTH = 1.0  # per cent for what cannot be put back


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Judged:
    """A change with its forecast, the reasons against it, and where it stands."""

    candidate: Candidate
    forecast: Forecast
    refusals: tuple[Refusal, ...]
    standing: str = POSSIBLE
    pulled: str = ""  # setup of the session in which it was pulled already
    start: Reference | None = None  # what was measured of the setup to which only jets are changed; None: the baseline

    @property
    def starts_from(self) -> str:
        """Name of that setup; "": the baseline."""
        return self.start.name if self.start else ""

    @property
    def rows(self) -> Rows:
        """Changes against the setup that it starts from."""
        return tuple(
            r for o in self.candidate.options if not (self.starts_from and o.entry.kind == PULLED) for r in o.rows
        )

    @property
    def merit(self) -> float:
        """Gain less its prices. [% of torque in the riding band]"""
        c, f = self.candidate, self.forecast
        price = TOP_WORTH * max(0.0, -f.top.value) + HOUR_WORTH * c.minutes / 60.0
        price += WAIT_WORTH * (c.stock == TO_BUY) + FOREVER_WORTH * (not c.reversible)
        return f.gain.value - price


def placed(judged: Iterable[Judged], verdict: str) -> list[Judged]:
    """Everything with its standing, best first; what is recommended is on the Pareto front of what may be."""
    rows = [replace(j, standing=_standing(j, verdict)) for j in judged]
    chosen = front([j for j in rows if j.standing == POSSIBLE])
    best = {id(j) for j in sorted(chosen, key=lambda j: -j.merit)[:MOST_SHOWN] if j.merit > 0.0}
    rows = [replace(j, standing=FRONT) if id(j) in best else j for j in rows]
    order = (FRONT, POSSIBLE, NO_GAIN, OTHER, REFUSED)
    return sorted(rows, key=lambda j: (order.index(j.standing), -j.merit))


def front(judged: Sequence[Judged]) -> list[Judged]:
    """Those that no other beats in gain, top end and minutes at once."""
    return [j for j in judged if not any(_beats(other, j) for other in judged)]


def _prices(j: Judged) -> tuple[float, float, float, int]:
    top = round(max(0.0, -j.forecast.top.value), 1)
    return -round(j.forecast.gain.value, 1), top, j.candidate.minutes, STOCK.index(j.candidate.stock)


def _beats(one: Judged, other: Judged) -> bool:
    """At least as good in everything, and better in something."""
    a, b = _prices(one), _prices(other)
    return a != b and all(x <= y for x, y in zip(a, b, strict=True))


def _standing(j: Judged, verdict: str) -> str:
    if j.refusals:
        return REFUSED
    if j.candidate.groups not in CURES.get(verdict, ()):
        return OTHER
    return POSSIBLE if j.forecast.gain.low > 0.0 else NO_GAIN
