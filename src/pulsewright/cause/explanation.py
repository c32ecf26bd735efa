"""The answer to "why": hole, verdict, shares, evidence, safety, and what to try next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from pulsewright.cause.causes import UNEXPLAINED
from pulsewright.cause.evidence import Evidence
from pulsewright.cause.safety import LeanPoint, SafetyNote
from pulsewright.cause.switches import Split
from pulsewright.pulls.hole import Hole

FORMAT = "pulsewright explanation 1"


@dataclass(frozen=True, slots=True, kw_only=True)
class NextTest:
    """Something to do next, and what is expected of it."""

    do: str
    expect: str
    tells_apart: tuple[str, ...]
    minutes: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Unexplained:
    """Model minus measurement at the bottom over the measured loss, with its 80 % interval. [-]"""

    share: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """What a session shows."""

    hole: Hole | None
    verdict: str
    confidence: float
    chances: dict[str, float]  # probability of every cause
    split: Split | None
    unexplained: Unexplained | None
    evidence: tuple[Evidence, ...]
    safety: tuple[SafetyNote, ...]
    leanest: LeanPoint | None
    next: tuple[NextTest, ...]
    notes: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """Plain data in the form `pulsewright explanation 1`."""
        return {
            "format": FORMAT,
            "hole": _hole(self.hole),
            "verdict": self.verdict,
            "confidence": round(self.confidence, 3),
            "chances": {c: round(p, 3) for c, p in self.chances.items()},
            "shares": _shares(self),
            "evidence": [
                {"what": e.what, "for": e.supports, "against": e.against, "weight": round(e.weight, 2)}
                for e in self.evidence
            ],
            "safety": [{"what": n.what, "setup": n.setup, "rpm": round(n.rpm), "level": n.level} for n in self.safety],
            "next": [
                {"do": t.do, "expect": t.expect, "tells_apart": list(t.tells_apart), "minutes": t.minutes}
                for t in self.next
            ],
            "notes": list(self.notes),
        }


def _hole(hole: Hole | None) -> dict[str, Any] | None:
    if hole is None:
        return None
    return {
        "rpm_from": round(hole.rpm_from), "rpm_to": round(hole.rpm_to), "rpm_bottom": round(hole.rpm_bottom),
        "depth": round(hole.depth, 4), "repeats": hole.repeats,
    }  # fmt: skip


def _shares(e: Explanation) -> list[dict[str, Any]]:
    if e.split is None:
        return []
    rows: list[dict[str, Any]] = [
        {"cause": s.cause, "share": round(s.share, 3), "low": round(s.low, 3), "high": round(s.high, 3)}
        for s in e.split.shares
    ]
    left = e.unexplained
    if left is not None and rows:
        ends = {"low": round(left.low, 3), "high": round(left.high, 3)}
        rows.append({"cause": UNEXPLAINED, "share": round(left.share, 3), **ends})
    return rows
