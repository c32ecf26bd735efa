"""One comparison with a value from outside, and the worst of a whole table of them."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Kind = Literal["relative", "absolute", "at least", "at most"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """What was compared, with what, and how far they may differ.

    kind : "relative" and "absolute" take a tolerance; "at least" and "at most" hold `got` to the
    bound in `expected`, loosened by the tolerance (absolute).
    """

    what: str
    source: str
    expected: float
    got: float
    tolerance: float
    kind: Kind = "relative"

    @property
    def error(self) -> float:
        """How far `got` is off, in the measure that the tolerance uses; not a number stays so."""
        if self.kind == "at least":
            return self.expected - self.got
        if self.kind == "at most":
            return self.got - self.expected
        off = abs(self.got - self.expected)
        if self.kind == "relative":
            return off / abs(self.expected) if self.expected else (0.0 if off == 0.0 else math.inf)
        return off

    @property
    def passed(self) -> bool:
        """True where the two agree; never for a value that could not be computed."""
        return self.error <= self.tolerance


def worst(
    what: str,
    source: str,
    rows: Iterable[tuple[str, float, float]],
    tolerance: float,
    kind: Kind = "relative",
) -> Check:
    """The row of a table that agrees least, as one check; rows are (name, expected, got)."""
    checks = [
        Check(what=name, source=source, expected=expected, got=got, tolerance=tolerance, kind=kind)
        for name, expected, got in rows
    ]
    if not checks:
        raise ValueError(f"nothing to compare for '{what}'")
    badness = [math.inf if math.isnan(c.error) else c.error for c in checks]
    bad = checks[badness.index(max(badness))]
    return Check(
        what=f"{what}: worst of {len(checks)}, {bad.what}",
        source=source,
        expected=bad.expected,
        got=bad.got,
        tolerance=tolerance,
        kind=kind,
    )
