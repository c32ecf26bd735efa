"""A small machine, reference curves and runs that cost nothing, for tests of everything around the model."""

from __future__ import annotations

from typing import Any

import numpy as np

from pulsewright.bench.sheet import setup_from_text
from pulsewright.fit.machine import Draw, FittedMachine
from pulsewright.network.calibration import Calibration
from pulsewright.remedies.candidates import Machine
from pulsewright.remedies.reference import Reference
from pulsewright.remedies.trials import TrialCurves
from pulsewright.simulate.speed_point import SpeedPoint

TWIN = """
format = "pulsewright setup 1"
[engine]
cylinders = 2
bore = "96 mm"
stroke = "98 mm"
compression_ratio = 8.5
firing = [0, 412]
cooling = "air"
[engine.intake_valve]
opens = "30 deg BTDC"
closes = "55 deg ABDC"
[engine.exhaust_valve]
opens = "60 deg BBDC"
closes = "30 deg ATDC"
[ignition]
advance = [[900, 12], [2800, 32], [8000, 32]]
[[carburettor]]
kind = "fixed venturi"
feeds = [1, 2]
venturi = "39 mm"
main_jet = "2.00 mm"
main_air_bleed = "1.20 mm"
intermediate_jet = "0.90 mm"
intermediate_air_bleed = "1.10 mm"
[intake]
mouth = "open"
before_carburettor = [ { length = "25 mm", bore = "49 mm" } ]
[exhaust]
route.1 = [ { piece = "pipe", length = "920 mm", bore = "43 mm" }, { piece = "end", kind = "open" } ]
route.2 = [ { piece = "pipe", length = "920 mm", bore = "43 mm" }, { piece = "end", kind = "open" } ]
lambda_sensor.1 = "300 mm"
"""
TUBED = TWIN.replace(
    "[[carburettor]]\n",
    """[[carburettor]]
emulsion_tube = [
  { below = "3 mm", holes = 2, bore = "1.00 mm" }, { below = "12 mm", holes = 4, bore = "0.80 mm" },
]
pump_volume = "0.6 cm^3"
""",
)
SLIDES = (
    TWIN.replace('"fixed venturi"', '"slide"')
    .replace('main_jet = "2.00 mm"', 'main_jet = "1.70 mm"')
    .replace('main_air_bleed = "1.20 mm"', 'main_air_bleed = "0.50 mm"')
    .replace('intermediate_jet = "0.90 mm"', 'intermediate_jet = "0.65 mm"')
)
SUCTIONS = SLIDES.replace('"slide"', '"constant velocity"')


def machine(text: str = TWIN) -> Machine:
    return Machine(name="A", text=text, setup=setup_from_text(text, "test"))


def reference(
    *,
    mixture: float | np.ndarray = 0.84,
    known: bool | np.ndarray = True,
    gate: float = 0.92,
    bottom: float | None = 3000.0,
) -> Reference:
    """100 N m with a dip of 15 % at `bottom`, 2000 to 6000 rpm, the riding band from 2200 to 4200."""
    rpm = np.arange(2000.0, 6301.0, 50.0)
    reach = rpm <= 6000.0
    dip = 0.15 * np.exp(-(((rpm - (bottom or 3000.0)) / 300.0) ** 2)) if bottom else 0.0 * rpm
    return Reference(
        name="A",
        rpm=rpm,
        torque=np.where(reach, 100.0 * (1.0 - dip), np.nan),
        mixture=np.broadcast_to(mixture, rpm.shape).astype(float),
        mixture_sd=np.full(rpm.shape, 0.003),
        mixture_known=np.broadcast_to(known, rpm.shape).astype(bool),
        doubted=False,
        in_reach=reach,
        band=(rpm >= 2200.0) & (rpm <= 4200.0),
        top=reach & (rpm >= 5500.0),
        bottom=bottom,
        lean_gate=gate,
    )


def curves(draws: int = 4, **factors: Any) -> TrialCurves:
    """Flat curves on a few speeds, each times its factor: torque, leanest, trapped, sensor, knock."""
    rpm = np.geomspace(2000.0, 6300.0, 14)
    flat = np.ones((draws, rpm.size))
    base = {"torque": 100.0, "leanest": 0.85, "trapped": 0.82, "sensor": 0.84, "knock": 0.8}
    return TrialCurves(rpm=rpm, **{name: value * flat * factors.get(name, 1.0) for name, value in base.items()})


def fitted(draws: int = 6) -> FittedMachine:
    """Machines that differ in a number which the stand-in for the model reads."""
    return FittedMachine(draws=tuple(Draw(calibration=Calibration(friction=1.0 + 0.01 * k)) for k in range(draws)))


class Model:
    """Stands in for a sweep: a plate cures, leaner jets lean; counts its runs."""

    def __init__(self) -> None:
        self.runs = 0

    def __call__(self, setup, speeds, options, *, within=None, threads=None, progress=None):
        self.runs += 1
        points = []
        jet = setup.carburettors[0].main_jet / 2.0e-3
        plates = sum(p.piece == "plate" for p in setup.exhaust.route[1])
        echo = 0.0 if options.exhaust_ends == "non-reflecting" else 1.0
        for k, rpm in enumerate(speeds):
            if progress is not None:
                progress(k, len(speeds), rpm)
            dip = 0.15 * echo * (1.0 - 0.6 * plates) * np.exp(-(((rpm - 3000.0) / 300.0) ** 2))
            torque = 100.0 * (1.0 - dip) * options.calibration.friction - 1.0 * plates * (rpm > 5000.0)
            mixture = 0.84 / jet
            points.append(_point(float(rpm), float(torque), mixture))
        return points


def _point(rpm: float, torque: float, mixture: float) -> SpeedPoint:
    return SpeedPoint(
        rpm=rpm, torque=torque, power=torque * rpm * np.pi / 30.0, indicated_torque=torque, friction_torque=0.0,
        volumetric_efficiency=0.8, lambda_delivered=mixture, lambda_trapped=mixture, residual=0.05, reversed_air=0.0,
        exhaust_temperature=900.0, back_pressure=0.0, knock_margin=0.3, outcome="converged", cycles=4, torque_left=0.0,
        lambda_sensor={"1": mixture}, trapped_by_cylinder=[mixture, mixture - 0.01],
    )  # fmt: skip
