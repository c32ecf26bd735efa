r"""Jets for another air or another fuel: the published relation, and what the model itself says.

At one engine speed and filling the air of a fixed venturi goes with its density, the depression too, and the
fuel with the square roots of both densities, so that an unchanged lambda needs

.. math:: \frac{A'}{A} = \sqrt{\frac{\rho_a'}{\rho_a}} \sqrt{\frac{\rho_f}{\rho_f'}} \frac{L}{L'}

with the jets' area A, the densities of air and fuel, and L the mass of air that burns a mass of fuel.

Source   closed form of the fixed venturi (Bernoulli on both sides), any text, e.g. Heywood 1988, section 7.3;
         values in `outside/data/density_rejet.csv`. L by atom balance, `bench.fill_fuel`.
Not for  bleeds, lip, column and wave, which the closed form leaves out: there the model's own search comes in.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from pulsewright.bench.air import REFERENCE_AIR, Air
from pulsewright.bench.fuel import Fuel
from pulsewright.bench.setup import Setup
from pulsewright.errors import InputError
from pulsewright.network.gas import charge_of
from pulsewright.network.options import Options
from pulsewright.physics.fuel import density_at
from pulsewright.physics.humid_air import density
from pulsewright.physics.jet_flow import rejet_diameter_ratio
from pulsewright.physics.standard_atmosphere import pressure_at, temperature_at
from pulsewright.simulate.cautions import LEAN_GATE
from pulsewright.simulate.outcome import FAILED
from pulsewright.simulate.sweep import sweep

FORMAT = "pulsewright rejet 1"
CLOSE_ENOUGH = 1e-3  # of lambda
MOST_RUNS = 5
JETS = ("main_jet", "intermediate_jet")
STEPS_APART = 0.01  # of a diameter: half of a usual step between two jets, common practice, no published source


@dataclass(frozen=True, slots=True, kw_only=True)
class Rejet:
    """What another air or fuel does to the mixture, and the jets that undo it. Arrays run over `rpm`."""

    before: Setup
    after: Setup  # the same machine in the other air, on the other fuel
    rpm: np.ndarray
    lambda_before: np.ndarray
    lambda_kept: np.ndarray  # with the jets left as they are
    lambda_after: np.ndarray  # with the jets of the model
    published: float  # factor on the area of all jets
    model: float
    runs: int

    @property
    def air_density_ratio(self) -> float:
        """Density of the moist air, after over before. [-]"""
        return _density(self.after.air) / _density(self.before.air)

    def bores(self) -> dict[str, dict[str, float]]:
        """Bores [m] of every jet by its path in the sheet: `now`, `published`, `model`."""
        found = {}
        for number, part in enumerate(self.before.carburettors, 1):
            for key in JETS:
                now = getattr(part, key)
                if now > 0.0:
                    ways = {"published": now * math.sqrt(self.published), "model": now * math.sqrt(self.model)}
                    found[f"carburettor.{number}.{key}"] = {"now": now, **ways}
        return found

    def cautions(self) -> list[str]:
        """What a person must know before the engine is loaded on these jets."""
        gate = LEAN_GATE[self.before.engine.cooling]
        said = []
        for what, curve in (("the present jets", self.lambda_kept), ("the new jets", self.lambda_after)):
            lean = curve > gate
            if lean.any():
                at = ", ".join(f"{s:.0f}" for s in self.rpm[lean])
                said.append(
                    f"on {what} lambda then is above the lean gate of {gate:.2f} at {at} rpm"
                    f" (leanest {np.nanmax(curve):.2f}): do not load the engine so"
                )
        if abs(math.log(self.model / self.published)) > 2.0 * STEPS_APART:
            said.append("model and published relation differ by more than half a usual step of jets: start richer")
        if any(part.needle for part in self.before.carburettors):
            said.append(NEEDLE)
        return [*said, STANDING]

    def as_json(self) -> dict[str, Any]:
        """Plain data with the format's name; bores in mm."""
        names = ("rpm", "lambda_before", "lambda_kept", "lambda_after")
        return {
            "format": FORMAT,
            "from": _conditions(self.before),
            "to": _conditions(self.after),
            "air_density_ratio": self.air_density_ratio,
            "area_ratio": {"published": self.published, "model": self.model},
            "jets_mm": {path: {way: 1e3 * bore for way, bore in bores.items()} for path, bores in self.bores().items()},
            **{name: getattr(self, name) for name in names},
            "runs": self.runs,
            "cautions": self.cautions(),
        }


NEEDLE = (
    "the ring round the needle stays as it is: where it holds the fuel back, in the middle of the throttle, other jets"
    " undo only a part of the change; look there too, and move the clip (common practice)"
)
STANDING = (
    "a measurement goes before both answers: go down from the richer jet, with lambda measured or the plug cut off"
    " and read at full load (common practice), and keep the old jets"
)


def in_other_air(setup: Setup, air: Air | None, fuel: Fuel | None) -> Setup:
    """The same machine in another air and on another fuel; None leaves what the sheet says."""
    return replace(setup, air=air or setup.air, fuel=fuel or setup.fuel)


def air_at(altitude: float, humidity: float) -> Air:
    """Air of the standard atmosphere at an altitude [m], with a relative humidity [-]. ICAO Doc 7488."""
    return Air(temperature=temperature_at(altitude), pressure=pressure_at(altitude), humidity=humidity)


def published_area_ratio(before: Setup, after: Setup) -> float:
    """Factor on the area of all jets for an unchanged lambda, closed form of the fixed venturi. [-]"""
    of_air = rejet_diameter_ratio(_density(after.air) / _density(before.air)) ** 2
    return of_air * math.sqrt(_fuel_density(before) / _fuel_density(after)) * _air_of(before) / _air_of(after)


def rejet(before: Setup, after: Setup, speeds: Sequence[float], *, threads: int | None = None) -> Rejet:
    """Jets that give `after` the lambda of `before` at engine speeds [rpm], all jets by one factor on their area.

    The factor is searched by the secant method on the mean of ln(lambda) over the speeds. Raises InputError
    where the model finds no speed that runs in both.
    """

    def mixture(setup: Setup, factor: float) -> np.ndarray:
        points = sweep(setup, speeds, Options(fuel_trim=factor), threads=threads)
        return np.array([math.nan if p.outcome == FAILED else p.lambda_delivered for p in points])

    wanted = mixture(before, 1.0)
    tried: list[tuple[float, float]] = []  # ln(factor), mean of ln(lambda / wanted)
    curves = []
    at = 0.0
    while True:
        curves.append(mixture(after, math.exp(at)))
        off = _off(curves[-1], wanted)
        tried.append((at, off))
        if abs(off) < CLOSE_ENOUGH or len(tried) == MOST_RUNS:
            break
        at = _secant(tried)
    return Rejet(
        before=before, after=after, rpm=np.array(speeds, dtype=float), lambda_before=wanted, lambda_kept=curves[0],
        lambda_after=curves[-1], published=published_area_ratio(before, after), model=math.exp(at),
        runs=1 + len(tried),
    )  # fmt: skip


def _off(curve: np.ndarray, wanted: np.ndarray) -> float:
    known = np.isfinite(curve) & np.isfinite(wanted)
    if not known.any():
        raise InputError(
            "the model finds no speed at which the engine runs before and after",
            hint="name speeds at which it runs with --rpm, or a smaller change of air",
        )
    return float(np.mean(np.log(curve[known] / wanted[known])))


def _secant(tried: list[tuple[float, float]]) -> float:
    """The next ln(factor); the first step takes lambda to go with the inverse of the jets' area."""
    (at, off) = tried[-1]
    if len(tried) == 1:
        return at + off
    before, off_before = tried[-2]
    slope = (off - off_before) / (at - before)
    return at - off / (slope if slope < -0.2 else -1.0)  # a larger jet is never much leaner


def _density(air: Air | None) -> float:
    air = air or REFERENCE_AIR
    return density(air.temperature, air.pressure, air.humidity)


def _fuel_density(setup: Setup) -> float:
    return density_at(setup.fuel.density, (setup.air or REFERENCE_AIR).temperature)


def _air_of(setup: Setup) -> float:
    """Mass of this moist air that burns a mass of fuel. [-]"""
    return charge_of(setup.fuel, setup.air).air_fuel_ratio


def _conditions(setup: Setup) -> dict[str, Any]:
    air = setup.air or REFERENCE_AIR
    return {
        "fuel": setup.fuel.kind,
        "temperature_k": air.temperature,
        "pressure_pa": air.pressure,
        "humidity": air.humidity,
        "air_density": _density(air),
    }
