"""What a sheet does not hold and pulls can tell: coefficients of the model for one very machine."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """Coefficients of the model, as factors on their nominal values where nothing else is said.

    friction : on the friction pressure.
    burn : on the duration of the burn.
    rich_cost : on the torque that a mixture richer than the best one costs.
    rich_limit : lambda at which half the cycles misfire for want of air, not a factor.
    intake_flow, exhaust_flow : on the effective areas of valves with their ports.
    wall_warmth : way of the pipe walls from shop air to their balance, 0 to 1, not a factor.
    pipe_heat : on the heat transfer in exhaust pipes.
    exhaust_way : way of the echo over the lengths that the sheet gives to port and pipes of the exhaust.
    main_jet, intermediate_jet : on the effective areas of the jets.
    bleed : on the effective areas of the air bleeds.
    column : on the inertia of the fuel columns, which sets how late fuel follows suction.
    nozzle_suction : on the share of the throat's suction that the main nozzle feels.
    kept_fuel : share of the fuel blown out of the mouth that is breathed in again, 0 to 1, not a factor.
    loss_position : 0 = central loss of every obstacle, -1 / +1 = low / high end of its published band.
    mixture_trim : factors on all jets at engine speeds [rpm], straight between and level outside.
    """

    friction: float = 1.0
    burn: float = 1.0
    rich_cost: float = 1.0
    rich_limit: float = 0.575  # `physics.power_versus_mixture.RICH_MISFIRE`
    intake_flow: float = 1.0
    exhaust_flow: float = 1.0
    wall_warmth: float = 0.5  # a pull of ten seconds leaves a steel pipe about half-way, assumed
    pipe_heat: float = 1.0
    exhaust_way: float = 1.0
    main_jet: float = 1.0
    intermediate_jet: float = 1.0
    bleed: float = 1.0
    column: float = 1.0
    nozzle_suction: float = 1.0
    kept_fuel: float = 0.9  # assumed
    loss_position: float = 0.0
    mixture_trim: tuple[tuple[float, float], ...] = ()

    def trim_at(self, rpm: float) -> float:
        """Factor on all jets at an engine speed [rpm]."""
        if not self.mixture_trim:
            return 1.0
        speeds, factors = zip(*self.mixture_trim, strict=True)
        return float(np.interp(rpm, speeds, factors))


NOMINAL = Calibration()


def trim_of(speeds: Sequence[float], factors: Sequence[float]) -> tuple[tuple[float, float], ...]:
    """Rows of `mixture_trim` from engine speeds [rpm] and factors."""
    return tuple((float(s), float(f)) for s, f in zip(speeds, factors, strict=True))
