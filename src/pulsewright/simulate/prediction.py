"""Curves over engine speed, with names and units, as they are printed and stored."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from pulsewright.bench.assumption import Assumption
from pulsewright.simulate.fidelity import Level
from pulsewright.simulate.speed_point import SpeedPoint

FORMAT = "pulsewright prediction 1"
# Curves of each cylinder, and where a point holds them.
BY_CYLINDER = {
    "lambda_trapped": "trapped_by_cylinder",
    "lambda_delivered": "delivered_by_cylinder",
    "volumetric_efficiency": "filling_by_cylinder",
    "indicated_torque_nm": "torque_by_cylinder",
    "residual_fraction": "residual_by_cylinder",
    "knock_margin": "knock_by_cylinder",
    "firing_share": "firing_by_cylinder",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Prediction:
    """One setup over engine speed. Arrays have the shape of `rpm`; nan where nothing could be computed."""

    rpm: np.ndarray
    torque_nm: np.ndarray
    power_kw: np.ndarray
    volumetric_efficiency: np.ndarray
    lambda_delivered: np.ndarray
    lambda_trapped: np.ndarray
    lambda_sensor: dict[str, np.ndarray]
    residual_fraction: np.ndarray
    reversed_air_fraction: np.ndarray
    exhaust_temperature_k: np.ndarray
    back_pressure_kpa: np.ndarray
    knock_margin: np.ndarray
    per_cylinder: dict[str, dict[str, np.ndarray]]
    outcome: tuple[str, ...]
    cycles: tuple[int, ...]
    torque_left_nm: np.ndarray  # how far more cycles would still move torque, estimated
    level: str
    level_error: dict[str, float]  # of torque against level "final", relative: what half and nine in ten speeds keep
    wall_s: float  # [s] in the model
    assumptions: tuple[Assumption, ...]
    piston_lift_mm: dict[str, np.ndarray] = field(default_factory=dict)  # mean, by carburettor that has a piston

    def as_json(self) -> dict[str, Any]:
        """Plain data; numbers that are not finite become null."""
        data: dict[str, Any] = {"format": FORMAT}
        for name in self.__dataclass_fields__:
            data[name] = _plain(getattr(self, name))
        return data


def gather(
    points: Sequence[SpeedPoint], *, level: Level, wall_s: float, assumptions: Sequence[Assumption]
) -> Prediction:
    """Turn the points of a sweep into curves."""

    def curve(name: str, scale: float = 1.0) -> np.ndarray:
        return np.array([getattr(p, name) * scale for p in points])

    cylinders = range(len(points[0].trapped_by_cylinder))
    per_cylinder = {
        str(n + 1): {name: np.array([getattr(p, field)[n] for p in points]) for name, field in BY_CYLINDER.items()}
        for n in cylinders
    }
    return Prediction(
        rpm=curve("rpm"),
        torque_nm=curve("torque"),
        power_kw=curve("power", 1e-3),
        volumetric_efficiency=curve("volumetric_efficiency"),
        lambda_delivered=curve("lambda_delivered"),
        lambda_trapped=curve("lambda_trapped"),
        lambda_sensor={
            name: np.array([p.lambda_sensor.get(name, math.nan) for p in points]) for name in points[0].lambda_sensor
        },
        residual_fraction=curve("residual"),
        reversed_air_fraction=curve("reversed_air"),
        exhaust_temperature_k=curve("exhaust_temperature"),
        back_pressure_kpa=curve("back_pressure", 1e-3),
        knock_margin=curve("knock_margin"),
        per_cylinder=per_cylinder,
        outcome=tuple(p.outcome for p in points),
        cycles=tuple(p.cycles for p in points),
        torque_left_nm=curve("torque_left"),
        level=level.name,
        level_error={"half": level.usual_error, "nine_in_ten": level.large_error},
        wall_s=wall_s,
        assumptions=tuple(assumptions),
        piston_lift_mm={
            str(n + 1): 1e3 * np.array([p.piston_lift[n] for p in points])
            for n, lift in enumerate(points[0].piston_lift)
            if math.isfinite(lift)
        },
    )


def _plain(value: Any) -> Any:
    """Numpy and dataclasses to what JSON knows, with six significant digits."""
    if isinstance(value, np.ndarray):
        return [_plain(float(x)) for x in value]
    if isinstance(value, float):
        return float(f"{value:.6g}") if math.isfinite(value) else None
    if isinstance(value, dict):
        return {k: _plain(v) for k, v in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(v) for v in value]
    if isinstance(value, Assumption):
        return {"key": value.key, "value": value.value, "why": value.why}
    return value
