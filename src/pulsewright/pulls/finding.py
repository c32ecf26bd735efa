"""A named artefact of the measurement, with its evidence."""

from __future__ import annotations

from dataclasses import dataclass

KINDS = (
    "heat soak", "warm-up", "drift", "slip", "pick-up", "dilution", "lag", "misfire", "fuel starvation",
    "odd pull", "sensor limit", "weather change", "too few pulls",
)  # fmt: skip
FACTS = ("sensor limit", "weather change", "too few pulls")  # seen or counted: their odds say nothing more
GREATEST_STRENGTH = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something in the pulls that is not the engine's torque or mixture, or may not be."""

    kind: str  # one of KINDS
    setup: str | None  # None: the session as a whole
    pull: int | None  # counting from 1 in the order of the session; None: the setup or session as a whole
    rpm: tuple[float, float] | None  # [rpm] where
    strength: float  # log10 of the odds that it is there, at most 3: 1 is ten to one
    evidence: str

    def as_json(self) -> dict[str, object]:
        """Plain values."""
        return {
            "kind": self.kind, "setup": self.setup, "pull": self.pull,
            "rpm": list(self.rpm) if self.rpm else None, "strength": round(self.strength, 2),
            "evidence": self.evidence,
        }  # fmt: skip


def odds_of(times_threshold: float) -> float:
    """Strength of a value that many times its threshold: even odds at 1, ten to one at 2. [log10 odds]"""
    return max(0.0, min(GREATEST_STRENGTH, times_threshold - 1.0))


def odds_of_z(z: float) -> float:
    """Strength of an estimate z standard deviations from nothing: likelihood ratio of a Gaussian. [log10
    odds]"""
    return min(GREATEST_STRENGTH, 0.5 * z * z / 2.302585)


def odds_in_words(strength: float) -> str:
    """log10 odds for people: 'about even', 'about 30 to 1', '1000 to 1 or more'."""
    if strength >= 3.0:
        return "1000 to 1 or more"
    if strength < 0.1:
        return "about even"
    odds = 10.0**strength
    return f"about {odds:.1f} to 1" if odds < 3.0 else f"about {float(f'{odds:.1g}'):.0f} to 1"
