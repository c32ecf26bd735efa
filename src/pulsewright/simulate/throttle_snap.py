r"""Lambda after the throttle is snapped to another opening at one engine speed, with and without accelerator pump.

A reckoning behind the model, no march through the transient: air and metered fuel at every opening are those of
steady running (`sweep`), and follow the throttle at once; a wall film (`physics.wall_film`) and a pump stand between
carburettor and cylinders. The pump's shot goes with the throttle's way and leaves with a time constant:

.. math:: \dot m_p = q / t_p, \qquad \frac{dq}{dt} = \rho_f V_p \frac{dx}{dt} - \dot m_p

Left out: the manifold's filling (a fifth of a cycle), the lag of fuel column and well (5 ms), waves, residual gas of
the cycles before, and that a film forms and dries faster or slower with warmth.

Source   film: Aquino 1981. Share and time constant of a carburetted manifold are not known for any machine: three
         guesses (from memory of published fits, X 0.1 to 0.5, tau 0.1 to 1 s) are all answered, and beside them a fit
         to an engine with one injector at the throttle, which depends on the manifold's pressure
         (`physics.wall_film.central_film`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from pulsewright.bench.air import REFERENCE_AIR
from pulsewright.bench.setup import Setup
from pulsewright.bench.throttle import with_throttle
from pulsewright.network.gas import charge_of
from pulsewright.network.options import Options
from pulsewright.physics.fuel import density_at
from pulsewright.physics.humid_air import density
from pulsewright.physics.wall_film import central_film, film_at_rest, film_step
from pulsewright.simulate.fidelity import SHOW
from pulsewright.simulate.load_kernels import load_kernels
from pulsewright.simulate.outcome import CONVERGED
from pulsewright.simulate.settle import patient
from pulsewright.simulate.sweep import sweep

FORMAT = "pulsewright throttle snap 1"
STEP = 2e-3  # [s]
BEFORE, AFTER = 0.1, 3.0  # [s] shown of the time before and after the throttle begins to move
OPENINGS = 7  # computed from the first to the last
LEAN_MISFIRE, RICH_MISFIRE = 1.15, 0.65  # lambda at which an engine stumbles: common practice, no published source


@dataclass(frozen=True, slots=True, kw_only=True)
class Film:
    """A guess at the wall film."""

    share: float  # X, of the metered fuel that lands on the wall
    time_constant: float  # [s]

    def over(self, pressure: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Share and time constant [s], the same at every manifold pressure."""
        return np.full(pressure.size, self.share), np.full(pressure.size, self.time_constant)


@dataclass(frozen=True, slots=True, kw_only=True)
class CentralFilm:
    """The published fit, at one engine speed."""

    rpm: float

    def over(self, pressure: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Share and time constant [s] at manifold pressures [Pa]."""
        shares, times = zip(*(central_film(float(p), self.rpm) for p in pressure), strict=True)
        return np.array(shares), np.array(times)


AnyFilm = Film | CentralFilm


GUESSES = (Film(share=0.15, time_constant=0.2), Film(share=0.3, time_constant=0.4), Film(share=0.5, time_constant=0.8))


@dataclass(frozen=True, slots=True, kw_only=True)
class SteadyFlow:
    """Air and metered fuel of steady running over the throttle, all cylinders together."""

    throttle: np.ndarray  # (openings,) rising
    air: np.ndarray  # [kg/s]
    fuel: np.ndarray  # [kg/s]
    pressure: np.ndarray  # [Pa] mean behind the throttle
    rpm: float
    air_fuel_ratio: float  # mass of this air that burns a mass of fuel
    fuel_density: float  # [kg/m³]
    outcome: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Snap:
    """How the throttle moves, and what the pump gives."""

    start: float  # share of the way from shut to wide open
    end: float
    opening_time: float  # [s]
    pump_volume: float  # [m³] of all pumps for the whole way
    pump_time: float  # [s] in which a shot falls to 1/e of itself


@dataclass(frozen=True, slots=True, kw_only=True)
class Excursion:
    """What the cylinders get with one film. Arrays run over `time`."""

    film: AnyFilm
    share: tuple[float, float]  # on the wall, before the snap and after it
    time_constant: tuple[float, float]  # [s] likewise
    time: np.ndarray  # [s] from the throttle's first move
    mixture: np.ndarray  # lambda with the pump
    without_pump: np.ndarray  # lambda without
    taken_up: float  # [m³] of fuel that the film holds more at the end than at the start
    pumped: float  # [m³]

    def stumbles(self, mixture: np.ndarray) -> float:
        """How long lambda is such that an engine stumbles. [s]"""
        outside = (mixture > LEAN_MISFIRE) | (mixture < RICH_MISFIRE)
        return float(np.count_nonzero(outside & (self.time >= 0.0)) * STEP)

    def as_json(self) -> dict[str, Any]:
        """Plain data; volumes in cm³."""
        return {
            "film": "fit to pressure" if isinstance(self.film, CentralFilm) else "guess",
            "film_share": self.share[1], "film_time_s": self.time_constant[1],
            "film_share_before": self.share[0], "film_time_before_s": self.time_constant[0], "time_s": self.time,
            "lambda": self.mixture, "lambda_without_pump": self.without_pump, "film_takes_cm3": 1e6 * self.taken_up,
            "pumped_cm3": 1e6 * self.pumped, "stumbles_s": self.stumbles(self.mixture),
            "stumbles_without_pump_s": self.stumbles(self.without_pump),
        }  # fmt: skip


def steady_flow(setup: Setup, rpm: float, start: float, end: float, *, threads: int | None = None) -> SteadyFlow:
    """The model at openings from one to the other, at one engine speed [rpm]."""
    low, high = sorted((start, end))
    openings = np.geomspace(low, high, OPENINGS)
    options = Options(grid=SHOW.grid)
    load_kernels(setup, options)
    points = []
    for opening in openings:
        part = with_throttle(setup, float(opening))
        points += sweep(part, [rpm], options, within=patient(SHOW.within, part), threads=threads)
    outside = setup.air or REFERENCE_AIR
    cycle_air = density(outside.temperature, outside.pressure, outside.humidity) * setup.engine.displacement
    air = np.array([p.volumetric_efficiency for p in points]) * cycle_air * rpm / 120.0
    ratio = charge_of(setup.fuel, setup.air).air_fuel_ratio
    behind = np.array([p.pressure_behind for p in points])  # not a number with nothing in the bore
    return SteadyFlow(
        throttle=openings, air=air, rpm=rpm, pressure=np.where(np.isfinite(behind), behind, outside.pressure),
        fuel=air / (ratio * np.array([p.lambda_delivered for p in points])),
        air_fuel_ratio=ratio, fuel_density=density_at(setup.fuel.density, outside.temperature),
        outcome=tuple(p.outcome for p in points),
    )  # fmt: skip


def excursion(flow: SteadyFlow, snap: Snap, film: AnyFilm) -> Excursion:
    """Lambda over time by one film."""
    time = np.arange(-BEFORE, AFTER, STEP)
    moved = np.clip((time + STEP) / max(snap.opening_time, STEP), 0.0, 1.0)  # share of the move, end of each step
    opening = snap.start + (snap.end - snap.start) * moved
    air, metered, pressure = (np.interp(opening, flow.throttle, x) for x in (flow.air, flow.fuel, flow.pressure))
    shot = flow.fuel_density * snap.pump_volume * max(snap.end - snap.start, 0.0)
    pumped = pumped_fuel(np.diff(moved, prepend=0.0) * shot, snap.pump_time)
    shares, times = film.over(pressure)
    plain, _ = fuel_to_cylinders(metered, shares, times)
    helped, _ = fuel_to_cylinders(metered, shares, times, pumped)
    held = [film_at_rest(metered[n], shares[n], times[n]) for n in (0, -1)]
    return Excursion(
        film=film, share=(float(shares[0]), float(shares[-1])), time_constant=(float(times[0]), float(times[-1])),
        time=time, mixture=air / (flow.air_fuel_ratio * helped), without_pump=air / (flow.air_fuel_ratio * plain),
        taken_up=(held[1] - held[0]) / flow.fuel_density, pumped=shot / flow.fuel_density,
    )  # fmt: skip


def pumped_fuel(pushed: np.ndarray, pump_time: float) -> np.ndarray:
    """Fuel that the pump gives in every step [kg/s], from what the throttle's way pushes in each [kg]."""
    held, given = 0.0, np.empty(pushed.size)
    stays = float(np.exp(-STEP / pump_time))
    for n, more in enumerate(pushed):
        given[n] = (held + more) * (1.0 - stays) / STEP
        held = (held + more) * stays
    return given


def fuel_to_cylinders(
    metered: np.ndarray, shares: np.ndarray, times: np.ndarray, pumped: np.ndarray | float = 0.0
) -> tuple[np.ndarray, np.ndarray]:
    """Fuel that reaches the cylinders in every step [kg/s], and the film after it [kg]; starts from rest.

    shares, times : of the film in every step, [-] and [s]. The pump's jet lands on the wall by the same share.
    """
    rate = metered + pumped
    held = film_at_rest(metered[0], shares[0], times[0])
    reached, films = np.empty(rate.size), np.empty(rate.size)
    for n, each in enumerate(rate):
        held, reached[n] = film_step(held, each, shares[n], times[n], STEP)
        films[n] = held
    return reached, films


def pump_of(setup: Setup) -> tuple[float, float]:
    """Volume of all pumps together [m³] and the time of their shot [s]."""
    fitted = [part for part in setup.carburettors if part.pump_volume > 0.0]
    time = max((part.pump_time for part in fitted), default=setup.carburettors[0].pump_time)
    return sum(part.pump_volume for part in fitted), time


def all_arrived(flow: SteadyFlow) -> bool:
    """Whether steady running was found at every opening."""
    return all(outcome == CONVERGED for outcome in flow.outcome)


def snap_answers(flow: SteadyFlow, snap: Snap, films: Sequence[AnyFilm] = ()) -> list[Excursion]:
    """The excursion by every film; where none is said, by every guess and by the published fit."""
    return [excursion(flow, snap, film) for film in films or (*GUESSES, CentralFilm(rpm=flow.rpm))]
