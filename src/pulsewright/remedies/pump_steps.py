"""What a workshop can do about an accelerator pump, each by how long an engine would stumble after a snap."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from pulsewright.bench.setup import Setup
from pulsewright.remedies.catalogue import PUMP, Catalogue, Entry
from pulsewright.remedies.change_rows import options_of
from pulsewright.simulate.throttle_snap import Excursion, Snap, SteadyFlow, snap_answers


@dataclass(frozen=True, slots=True, kw_only=True)
class PumpStep:
    """One option of the catalogue."""

    entry: Entry
    words: str
    money: str
    volume: float  # [m³] of all pumps for the throttle's whole way
    stumbles: tuple[float, ...]  # [s] by guess at the film
    as_fitted: tuple[float, ...]  # [s] likewise, with the pump as it is

    def as_json(self) -> dict[str, Any]:
        """Plain data; volume in cm³."""
        return {
            "change": self.words, "pump_cm3": 1e6 * self.volume, "stumbles_s": list(self.stumbles),
            "stumbles_as_fitted_s": list(self.as_fitted), "minutes": self.entry.minutes, "cost": self.entry.cost,
            "reversible": self.entry.reversible, "stock": self.entry.stock, "note": self.entry.note,
        }  # fmt: skip


def pump_steps(
    setup: Setup, catalogue: Catalogue, flow: SteadyFlow, snap: Snap, found: Sequence[Excursion]
) -> list[PumpStep]:
    """Every other stroke that the catalogue knows, by the same films as `found`; none without a pump or a snap open."""
    if snap.pump_volume <= 0.0 or snap.end <= snap.start:
        return []
    films = [each.film for each in found]
    steps = []
    for entry in (e for e in catalogue.changes if e.kind == PUMP):
        options, shares = options_of(entry, setup, catalogue), [by for by in entry.values["by"] if by]
        for option, by in zip(options, shares, strict=True):
            volume = (1.0 + by) * snap.pump_volume
            after = snap_answers(flow, replace(snap, pump_volume=volume), films)
            steps.append(
                PumpStep(
                    entry=entry, words=option.words, money=catalogue.money, volume=volume,
                    stumbles=tuple(each.stumbles(each.mixture) for each in after),
                    as_fitted=tuple(each.stumbles(each.mixture) for each in found),
                )
            )  # fmt: skip
    return steps
