"""Where a duct meets the open air: radiation, entry loss, and the mixed gas in front of it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from pulsewright.kernel.layout import ATMOSPHERE
from pulsewright.network.assembly import Assembly, DuctEnd, GasState
from pulsewright.physics.open_end import radiation

ZONE_LENGTH = 0.1  # [m] of duct whose volume of mixed gas stands in front of an open exhaust end, assumed
ENDLESS_ZONE = 2.0  # [m] of duct whose gas stands behind a non-reflecting end, so that it holds what came out, assumed
INTAKE_ZONE_LENGTH = 0.15  # [m] the same in front of an intake mouth, assumed
SHARP_ENTRY, FLANGED_ENTRY, ROUNDED_ENTRY = 0.8, 0.5, 0.05  # handbook entry losses on the dynamic head


@dataclass(frozen=True, slots=True, kw_only=True)
class MouthPlan:
    """How an end meets the air."""

    flanged: bool
    entry_loss: float  # [-] inwards
    through_loss: float  # [-] both ways (filter, obstacle in the end)
    zone_length: float  # [m]
    kept: float  # share of blown-out fuel vapour that stays in reach


def add_mouth(
    assembly: Assembly, end: DuctEnd, plan: MouthPlan, outside: GasState, target: float | None
) -> tuple[int, int]:
    """Join a duct end to the atmosphere; returns the joint and the reservoir.

    outside : the air far away. target : mean pressure of a non-reflecting end [Pa], None = a real end.
    """
    zone = plan.zone_length if target is None else ENDLESS_ZONE
    zone_mass = end.area * zone * outside.p / (287.0 * outside.T)
    reservoir = assembly.add_reservoir(
        ATMOSPHERE, outside, zone_mass=zone_mass, kept=plan.kept, far_T=outside.T, far_yv=outside.yv
    )
    if target is not None:
        return assembly.free_field(end, reservoir, target), reservoir
    resistance, correction = radiation(plan.flanged)
    radius = math.sqrt(end.area / math.pi)
    out = end.area / math.sqrt(1.0 + plan.through_loss)
    inwards = end.area / math.sqrt(1.0 + plan.through_loss + plan.entry_loss)
    joint = assembly.join(end, reservoir, out, inwards, resistance=resistance, mass_length=correction * radius)
    return joint, reservoir
