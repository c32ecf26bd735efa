"""The smallest change that pulls rule out: two one-sided tests at 5 %.

Source   D. J. Schuirmann, J. Pharmacokin. Biopharm. 15 (1987) 657-680 (from memory): equivalent within a
         margin when both one-sided tests at 5 % reject, that is when the 90 % interval lies inside.
Curve    "nowhere in the band larger than the margin" is shown when it is shown at every speed; such an
         intersection-union test needs no wider critical value (R. L. Berger, Technometrics 24 (1982) 295-300,
         from memory).
Not for  a margin chosen so that the test passes: say it before the pulls are made.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

ERROR = 0.05  # of each one-sided test
INSIDE = 1.0 - 2.0 * ERROR  # of the interval that must lie within the margin


@dataclass(frozen=True, slots=True, kw_only=True)
class Equivalence:
    """What change is ruled out, in per cent."""

    band: tuple[float, float]  # [rpm]
    mean_within: float  # the mean over the band changes by no more than this
    curve_within: float  # nowhere in the band more than this
    text: str

    def holds(self, margin_percent: float) -> bool:
        """True where no change larger than the margin anywhere in the band is shown."""
        return self.curve_within <= margin_percent

    def as_json(self) -> dict[str, object]:
        """Plain values."""
        return {
            "band": list(self.band), "mean_within_percent": round(self.mean_within, 2),
            "curve_within_percent": round(self.curve_within, 2), "text": self.text,
        }  # fmt: skip


def smallest_margin(log: np.ndarray | float, half: np.ndarray | float) -> float:
    """Smallest margin that two one-sided tests show, at every point given. [%]

    log : of ratios. half : half-widths of their 90 % intervals, in logs. A margin m stands for a ratio within
    1 - m to 1 + m.
    """
    above, below = np.expm1(np.asarray(log) + half), -np.expm1(np.asarray(log) - half)
    return 100.0 * float(max(np.max(above), np.max(below)))


def equivalence(
    band: tuple[float, float], *, mean: tuple[float, float], curve: tuple[np.ndarray, np.ndarray]
) -> Equivalence:
    """What is ruled out over a band. mean, curve : log differences and half-widths of their 90 % intervals."""
    middle, anywhere = smallest_margin(*mean), smallest_margin(*curve)
    where = f"in {band[0]:.0f} to {band[1]:.0f} rpm"
    return Equivalence(
        band=band, mean_within=middle, curve_within=anywhere,
        text=f"no change larger than {anywhere:.1f} % anywhere {where}, nor larger than {middle:.1f} % in the "
        "mean (two one-sided tests, 5 %)",
    )  # fmt: skip
