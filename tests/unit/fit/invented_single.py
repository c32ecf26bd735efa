"""An invented single, and pulls of it that a stated model makes: nothing here was measured."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from pulsewright.bench.changes import changed_text
from pulsewright.bench.setup import Setup
from pulsewright.bench.sheet import setup_from_text
from pulsewright.fit.machine import FIT_LEVEL
from pulsewright.fit.observations import Observations, Observed
from pulsewright.network.calibration import Calibration
from pulsewright.network.options import Options
from pulsewright.simulate.cautions import FIRES_WELL
from pulsewright.simulate.speed_point import SpeedPoint
from pulsewright.simulate.sweep import sweep

SHEET = """\
format = "pulsewright setup 1"
name = "invented single"
[engine]
cylinders = 1
bore = "86 mm"
stroke = "84 mm"
compression_ratio = 9.0
[engine.intake_valve]
diameter = "43 mm"
lift = "10 mm"
opens = "28 deg BTDC"
closes = "56 deg ABDC"
check_lift = 0
[engine.exhaust_valve]
diameter = "37 mm"
lift = "9.5 mm"
opens = "58 deg BBDC"
closes = "28 deg ATDC"
check_lift = 0
[[carburettor]]
kind = "fixed venturi"
feeds = [1]
venturi = "32 mm"
throttle_bore = "36 mm"
main_jet = "1.50 mm"
main_air_bleed = "1.00 mm"
main_nozzle = "3.5 mm"
intermediate_jet = "0.60 mm"
intermediate_air_bleed = "1.00 mm"
[intake]
mouth = "open"
after_carburettor = [ { length = "60 mm", bore = "38 mm" } ]
[exhaust]
route.1 = [ { piece = "pipe", length = "850 mm", bore = "40 mm" }, { piece = "end", kind = "open" } ]
lambda_sensor.1 = "300 mm"
"""
CHANGES = {
    "A": (),
    "B": (("carburettor.1.main_jet", "1.42 mm"),),
    "C": (("exhaust.route.1.1.length", "650 mm"),),
}
Distortion = Callable[[np.ndarray, np.ndarray], np.ndarray]  # rpm, torque [N m] to torque


def setup_named(name: str) -> Setup:
    text = changed_text(SHEET, CHANGES[name], where=name) if CHANGES[name] else SHEET
    return setup_from_text(text, name, lines=False)


def fires_well(points: list[SpeedPoint]) -> np.ndarray:
    """False where a pull would be ragged: such speeds are found as misfire, and no fit is held against them."""
    return np.array([min(p.firing_by_cylinder) >= FIRES_WELL for p in points])


def pulls_made_by(
    calibration: Calibration,
    names: str,
    speeds: np.ndarray,
    *,
    random: np.random.Generator,
    noise: float = 0.0,
    gain: float = 1.0,
    bias: float = 0.0,
    grid: float = FIT_LEVEL.grid,
    distorted: Distortion = lambda _rpm, torque: torque,
) -> Observations:
    """What a dyno would show of setups whose engine is a model with this calibration; noise as standard deviation.

    Nothing counts at speeds where the engine misses.
    """
    seen = []
    for name in names:
        points = sweep(
            setup_named(name), list(speeds), Options(grid=grid, calibration=calibration), within=FIT_LEVEL.within
        )
        fires = fires_well(points)
        torque = np.where(fires, gain * distorted(speeds, np.array([p.torque for p in points])), np.nan)
        mixture = np.where(fires, np.array([p.lambda_sensor["1"] for p in points]) + bias, np.nan)
        level = 1.0 + 0.008 * random.standard_normal() * (noise > 0.0)
        seen.append(
            Observed(
                name=name, setup=setup_named(name), pulls=(1, 2, 3), rpm=speeds,
                torque=torque * level * (1.0 + noise * random.standard_normal(speeds.size)),
                torque_sd=np.full(speeds.shape, max(noise, 0.004)), gain_sd=0.008, factor=1.0,
                mixture=mixture * (1.0 + noise * random.standard_normal(speeds.size)),
                mixture_sd=np.full(speeds.shape, max(noise, 0.006)), mixture_late=np.zeros(speeds.shape),
            )
        )  # fmt: skip
    return Observations(setups=tuple(seen), torque_at="engine", notes=())
