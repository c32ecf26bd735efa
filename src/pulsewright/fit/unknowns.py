"""What the sheet does not hold: each unknown with its unit, prior and source.

A fit works on standard numbers, one for each unknown, whose prior is normal with mean 0 and spread 1.
A factor moves as centre * exp(spread * z), a value as centre + spread * z, both kept within their limits.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from pulsewright.network.calibration import NOMINAL, Calibration, trim_of

FACTOR, VALUE = "factor", "value"
MODEL, MEASUREMENT = "model", "measurement"


@dataclass(frozen=True, slots=True, kw_only=True)
class Unknown:
    """One number to be learned; `spread` is one standard deviation of the prior."""

    name: str
    what: str
    unit: str
    kind: str  # FACTOR or VALUE
    centre: float
    spread: float
    low: float
    high: float
    source: str  # of the prior
    belongs: str = MODEL

    def standard(self, value: float) -> float:
        """Standard number of a value. Inverse of `value` within the limits."""
        return (math.log(value / self.centre) if self.kind == FACTOR else value - self.centre) / self.spread

    def value(self, z: float) -> float:
        """Value at a standard number."""
        raw = self.centre * math.exp(self.spread * z) if self.kind == FACTOR else self.centre + self.spread * z
        return min(max(raw, self.low), self.high)


def _factor(name: str, what: str, spread: float, source: str, **more: str) -> Unknown:
    return Unknown(
        name=name, what=what, unit="-", kind=FACTOR, centre=1.0, spread=spread,
        low=math.exp(-3.0 * spread), high=math.exp(3.0 * spread), source=source, **more,
    )  # fmt: skip


TRIM_SHARES = (0.0, 0.25, 0.5, 0.75, 1.0)  # of the way from the lowest to the highest speed of the pulls
TRIM_NAMES = tuple(f"trim_{n}" for n in range(1, len(TRIM_SHARES) + 1))

COEFFICIENTS = (
    _factor("friction", "friction of engine and drive", 0.25, "Chen & Flynn 1965 was measured on a heavier engine"),
    _factor("burn", "duration of the burn", 0.15, "textbook burn angles of 40 to 70 degrees, from memory"),
    Unknown(
        name="rich_cost", what="torque that a rich mixture costs", unit="-", kind=FACTOR, centre=0.75, spread=0.35,
        low=0.25, high=2.0, source="measured curve (1) and fuel-air cycle (0.5) lie one spread off the middle",
    ),
    Unknown(
        name="rich_limit", what="lambda at which half the cycles misfire", unit="-", kind=VALUE, centre=0.575,
        spread=0.04, low=0.48, high=0.68, source="rich limits of 0.50 to 0.72 are reported, common practice",
    ),
    _factor("intake_flow", "flow through intake valves and ports", 0.08, "valve coefficients differ by a tenth"),
    _factor("exhaust_flow", "flow through exhaust valves and ports", 0.10, "valve coefficients differ by a tenth"),
    Unknown(
        name="wall_warmth", what="how far the pipe walls warm up in a pull", unit="-", kind=VALUE, centre=0.5,
        spread=0.2, low=0.0, high=1.0, source="a pull lasts about as long as a steel pipe takes to warm, assumed",
    ),
    _factor("pipe_heat", "heat taken by the pipe", 0.4, "pulsating flow gives one to three times the steady value"),
    _factor("exhaust_way", "way of the echo over the lengths on the sheet", 0.04,
            "10 % in the gas's temperature move sound by 5 %, tape along a bend errs by 2 %, common practice"),
    _factor("main_jet", "flow of the main jet", 0.08, "jets of one number differ by 5 %, common practice"),
    _factor("intermediate_jet", "flow of the intermediate or pilot jet", 0.12, "as the main jet, and it wears"),
    _factor("bleed", "flow of the air bleeds", 0.15, "short bores, coefficient 0.6 to 0.85, from memory"),
    _factor("column", "inertia of the fuel in its passages", 0.5, "lengths are not on the sheet"),
    _factor("nozzle_suction", "suction at the nozzle", 0.18,
            "place of the nozzle, assumed to 10 %; the venturi's coefficient is 0.80 to 0.95, from memory"),
    Unknown(
        name="kept_fuel", what="share of the blown-back fuel that is breathed in again", unit="-", kind=VALUE,
        centre=0.85, spread=0.15, low=0.0, high=1.0,
        source="nobody measures it; fog stands in front of the mouth, assumed",
    ),
    Unknown(
        name="loss_position", what="loss of plate or bolt within its published band", unit="-", kind=VALUE,
        centre=0.0, spread=0.7, low=-2.0, high=2.0, source="published bands of the obstacle losses",
    ),
)  # fmt: skip
TRIM = tuple(
    _factor(name, f"mixture trim at {100.0 * share:.0f} % of the speed range", 0.07,
            "carburettors stray from their jets by a smooth curve, common practice")
    for name, share in zip(TRIM_NAMES, TRIM_SHARES, strict=True)
)  # fmt: skip
SENSOR = (
    Unknown(
        name="gain", what="dyno reading over torque at the crank", unit="-", kind=FACTOR, centre=1.0, spread=0.06,
        low=0.75, high=1.25, source="drive losses and calibration of rollers, common practice", belongs=MEASUREMENT,
    ),
    Unknown(
        name="lambda_bias", what="offset of the lambda sensor", unit="-", kind=VALUE, centre=0.0, spread=0.01,
        low=-0.04, high=0.04, source="accuracy that wide-band sensors are sold with, from memory",
        belongs=MEASUREMENT,
    ),
    Unknown(
        name="lambda_delay", what="delay of the lambda sensor within its doubt", unit="-", kind=VALUE,
        centre=0.0, spread=1.0, low=-3.0, high=3.0, source="doubt about delay and lag, from the pulls",
        belongs=MEASUREMENT,
    ),
    Unknown(
        name="air", what="density of the air over the weather station's", unit="-", kind=FACTOR, centre=1.0,
        spread=0.005, low=0.985, high=1.015, source="1 K and 3 hPa off, common practice", belongs=MEASUREMENT,
    ),
)  # fmt: skip
UNKNOWNS = (*COEFFICIENTS, *TRIM, *SENSOR)
NAMES = tuple(u.name for u in UNKNOWNS)
WHEEL_GAIN = dict(centre=0.90, spread=0.06, low=0.65, high=1.15, source="drives lose 5 to 15 %, common practice")


def unknowns_of(torque_at: str) -> tuple[Unknown, ...]:
    """Unknowns of a session whose torque is read at the "engine" or at the "wheel"."""
    if torque_at != "wheel":
        return UNKNOWNS
    return tuple(replace(u, **WHEEL_GAIN) if u.name == "gain" else u for u in UNKNOWNS)


def values_of(z: Sequence[float] | np.ndarray, unknowns: Sequence[Unknown] = UNKNOWNS) -> dict[str, float]:
    """Values of all unknowns by name at standard numbers (len(unknowns),)."""
    return {u.name: u.value(float(x)) for u, x in zip(unknowns, z, strict=True)}


def calibration_of(values: Mapping[str, float], speeds: tuple[float, float]) -> Calibration:
    """Coefficients of the model from values by name; `speeds` [rpm] are the lowest and highest of the pulls."""
    low, high = speeds
    knots = [low + share * (high - low) for share in TRIM_SHARES]
    trim = trim_of(knots, [values.get(name, 1.0) for name in TRIM_NAMES])
    own = {u.name: values.get(u.name, getattr(NOMINAL, u.name)) for u in COEFFICIENTS}
    return Calibration(**own, mixture_trim=trim)


def prior_draws(count: int, seed: int) -> np.ndarray:
    """Standard numbers of `count` machines as likely as any before the first pull. (count, len(UNKNOWNS))"""
    return np.random.default_rng(seed).standard_normal((count, len(UNKNOWNS)))
