"""One engine cycle of a case at one speed, and what it did."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from pulsewright.kernel.march import carry_over, march_cycle
from pulsewright.kernel.skin import renew_skin
from pulsewright.network.case import Case
from pulsewright.network.engine_parts import spark_advance
from pulsewright.physics.engine_friction import chen_flynn
from pulsewright.physics.slider_crank import mean_piston_speed, swept_volume

WIND = 4.0  # [m/s] of the shop's fan across the pipe, assumed
FRICTION_FACTOR = 0.55  # on the published friction, which was measured on a heavier engine, assumed


@dataclass(slots=True)
class CycleResult:
    """Sums and means of one cycle. Arrays run over the cylinders."""

    failed: bool
    torque: float  # [N m] at the crank
    indicated: float  # [N m] of the gas
    friction: float  # [N m]
    work: np.ndarray  # [J] of the gas
    firing: np.ndarray  # share of cycles that fire
    trapped: np.ndarray  # [kg]
    trapped_lambda: np.ndarray
    delivered_lambda: float
    delivered_by_cylinder: np.ndarray
    residual: np.ndarray
    air: np.ndarray  # [kg] net through each cylinder's intake valves
    fuel: np.ndarray  # [kg] likewise

    @property
    def fresh_air(self) -> float:
        """Net air of all cylinders. [kg]"""
        return float(np.sum(self.air))


def set_speed(case: Case, rpm: float) -> None:
    """Point a case at an engine speed; what is in the pipes stays (warm start)."""
    case.arrays["run"]["rpm"] = rpm
    case.arrays["cylinders"]["rpm"] = rpm
    case.arrays["cylinders"]["spark"] = spark_advance(case.setup, rpm)
    case.arrays["carburettors"]["circuit"]["jet"] = case.jets * case.options.calibration.trim_at(rpm)


def run_cycle(case: Case) -> CycleResult:
    """March one cycle and renew friction, heat transfer and wall temperatures from it."""
    a = case.arrays
    march_cycle(
        a["cells"][0], a["run"][0], a["ends"], a["joints"], a["reservoirs"], a["cylinders"], a["carburettors"],
        a["leaks"], a["valves"], a["traces"], a["reservoir_traces"],
    )  # fmt: skip
    seconds = 120.0 / float(a["run"]["rpm"][0])
    air, warmth = case.charge.air, case.options.calibration.wall_warmth
    renew_skin(a["cells"][0], a["skin"], seconds, air.temperature, air.pressure, WIND, warmth)
    carry_over(a["joints"], a["carburettors"], seconds)
    return cycle_result(case)


def cycle_result(case: Case) -> CycleResult:
    """What the cycle did that a case has just run."""
    a = case.arrays
    y = a["cylinders"]
    indicated = float(indicated_torque(y))
    friction = float(friction_torque(y, friction_share(case)))
    air, fuel = _drawn(case)
    ratio = case.charge.air_fuel_ratio
    failed = bool(a["run"]["failed"][0]) or not np.isfinite(indicated)
    return CycleResult(
        failed=failed,
        torque=indicated - friction,
        indicated=indicated,
        friction=friction,
        work=y["work"].copy(),
        firing=y["complete"].copy(),
        trapped=y["trapped"].copy(),
        trapped_lambda=trapped_lambda(y),
        delivered_lambda=float(_lambda_of(np.sum(air), np.sum(fuel), ratio)),
        delivered_by_cylinder=_lambda_of(air, fuel, ratio),
        residual=y["residual"].copy(),
        air=air,
        fuel=fuel,
    )


def indicated_torque(y: np.ndarray) -> np.ndarray:
    """Torque of the gas [N m] from rows of the cylinder table, (..., cylinders) to (...)."""
    return np.sum(y["work"], axis=-1) / (4.0 * np.pi)


def friction_torque(y: np.ndarray, share: float | np.ndarray) -> np.ndarray:
    """Torque lost to friction [N m] from rows of the cylinder table, (..., cylinders) to (...).

    share : of the published friction, as `friction_share` says it. [-], (...)
    """
    pressure = _by_array(chen_flynn)(y["p_max"], _by_array(mean_piston_speed)(y["stroke"], y["rpm"]))
    return share * np.sum(pressure * _by_array(swept_volume)(y["bore"], y["stroke"]), axis=-1) / (4.0 * np.pi)


def _by_array(formula: Callable[..., Any]) -> Callable[..., Any]:
    """A formula of physics as it is written, which takes arrays, in place of its compiled form for single numbers."""
    return getattr(formula, "py_func", formula)


def friction_share(case: Case) -> float:
    """Friction of this machine over the published one."""
    return FRICTION_FACTOR * case.options.calibration.friction


def trapped_lambda(y: np.ndarray) -> np.ndarray:
    """Lambda of the trapped charge from rows of the cylinder table, same shape."""
    return _lambda_of(y["trapped_air"], y["trapped_fuel"], y["air_fuel_ratio"])


def _lambda_of(air: np.ndarray, fuel: np.ndarray, ratio: float | np.ndarray) -> np.ndarray:
    """Lambda of air with fuel [kg]; infinite where there is no fuel."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(fuel > 0.0, air / (fuel * ratio), np.inf)


def _drawn(case: Case) -> tuple[np.ndarray, np.ndarray]:
    """Air and fuel that went through the intake valves of each cylinder in the cycle, net. [kg]"""
    valves = case.arrays["joints"][case.intake_valves]
    fuel = valves["sum_fuel"].copy()
    return valves["sum_ab"] - valves["sum_ba"] - fuel, fuel
