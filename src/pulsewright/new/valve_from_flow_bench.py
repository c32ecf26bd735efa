r"""Discharge coefficient of a valve from flow-bench numbers, with the pressure drop stated.

.. math:: C_d = \frac{\dot m}{\pi D L n \; \dot m''(p_1, T_1, \Delta p)}

Source   A. de Saint-Venant and L. Wantzel (1839) for the flow through an opening (`physics.restriction_flow`);
         the liquid form sqrt(2 rho dp) is given beside it, since many benches' sheets use it. Coefficient on the
         curtain area pi D L: Heywood 1988, ch. 6 (from memory).
Holds    a volume flow is that of the air where it enters, as benches show it (common practice, no published
         source).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from pulsewright.errors import InputError, UsageError
from pulsewright.new.estimate import Estimate, Line, Reading, with_band
from pulsewright.physics.restriction_flow import restriction_mass_flow
from pulsewright.physics.valve_flow import exhaust_area, inlet_area
from pulsewright.units import show

GAMMA, GAS_CONSTANT = 1.4, 287.05  # [-], [J/(kg K)] dry air
FLOW_SHARE = 0.03  # calibration and leaks of a bench, common practice
DROP_SHARE = 0.01  # water column, common practice
LIFT_DOUBT, DIAMETER_DOUBT = 0.1e-3, 0.1e-3  # [m] dial gauge and spring of the lever; callipers: common practice
PORT_PER_VALVE = 0.9  # as `bench.fill_engine` fills a port that is not on the sheet
UNSEEN_LIFTS = 0.08  # [-] what one lift leaves open of the others, as `fit.unknowns` believes of a valve before pulls
OFFICE_AIR = (101325.0, 293.15)  # [Pa], [K] where the bench's air is not said
LEAST, MOST = 0.5, 1.6  # flow_factor that a sheet takes


@dataclass(frozen=True, slots=True)
class Point:
    """One reading of the bench at one lift."""

    lift: float  # [m]
    mass_flow: float  # [kg/s]


def valve_from_flow_bench(
    points: Sequence[Point],
    *,
    drop: float,
    diameter: float,
    count: int = 1,
    port_bore: float | None = None,
    valve: str = "intake",
    air: tuple[float, float] = OFFICE_AIR,
) -> Estimate:
    """How much a valve with its port flows, against the usual valve that the model takes.

    Parameters
    ----------
    points : one or more lifts.
    drop : pressure drop across the valve at which all points were read. [Pa]
    diameter : of the valve head [m]; `count` : valves open together.
    port_bore : of the port [m]; left out: as the sheet fills it.
    valve : "intake" or "exhaust".
    air : pressure [Pa] and temperature [K] of the air where it enters.
    """
    if not points:
        raise UsageError("there is no reading", hint="give --lift and --flow, as often as you have readings")
    if not 0.0 < drop < air[0]:
        allowed = f"above 0 and below {show(air[0], 'pressure')}"
        raise InputError(
            f"the pressure drop is {show(drop, 'pressure')}; allowed: {allowed}",
            hint="give what the bench held across the valve, like --pressure-drop '28 inH2O'",
        )
    port = port_bore if port_bore is not None else PORT_PER_VALVE * diameter * math.sqrt(count)
    throat = math.pi / 4.0 * port**2 / count
    coefficients = [_coefficient(p, drop, diameter, count, air) for p in points]
    shares = [
        c.value / usual_coefficient(p.lift, diameter, throat, valve) for c, p in zip(coefficients, points, strict=True)
    ]
    factor = sum(shares) / len(shares)
    doubt = max((c.high - c.low) / (2.0 * c.value) for c in coefficients)
    doubt = math.hypot(doubt, (max(shares) - min(shares)) / (2.0 * factor) if len(shares) > 1 else UNSEEN_LIFTS)
    _refuse_what_no_valve_flows(factor)
    first = coefficients[0]
    return Estimate(
        kind="valve-cd",
        sentence=_sentence(valve, points, coefficients, factor, doubt),
        table=f"engine.{valve}_valve",
        lines=(Line.of("flow_factor", Reading.within_share(factor, doubt), "ratio"),),
        why=(
            f"Saint-Venant and Wantzel at {show(drop, 'pressure', digits=4)}, Cd on the curtain area pi D L;"
            f" as a liquid it would be {first.value * _liquid_share(drop, air):.3f}; flow believed within"
            f" {FLOW_SHARE:.0%}, lift within {show(LIFT_DOUBT, 'length')}"
        ),
        cautions=_cautions(points, diameter, shares),
        more=(
            ("pressure_drop", drop),
            ("points", [
                {"lift": p.lift, "mass_flow": p.mass_flow, "cd": c.value, "low": c.low, "high": c.high,
                 "effective_area": c.value * math.pi * diameter * p.lift * count, "over_usual": s}
                for p, c, s in zip(points, coefficients, shares, strict=True)
            ]),
        ),
    )  # fmt: skip


def discharge_coefficient(
    mass_flow: float, drop: float, lift: float, diameter: float, count: int, air: tuple[float, float]
) -> float:
    """On the curtain area of all valves. [-]; [kg/s], [Pa], [m], [m]"""
    pressure, temperature = air
    ideal = restriction_mass_flow(1.0, pressure, temperature, pressure - drop, GAMMA, GAS_CONSTANT)
    return mass_flow / (ideal * math.pi * diameter * lift * count)


def usual_coefficient(lift: float, diameter: float, throat: float, valve: str) -> float:
    """What the model takes for one valve, on the curtain area, its port included. [-]; [m], [m], [m²]"""
    area = inlet_area if valve == "intake" else exhaust_area
    return area(lift, diameter, throat) / (math.pi * diameter * lift)


def _coefficient(point: Point, drop: float, diameter: float, count: int, air: tuple[float, float]) -> Reading:
    def cd(mass_flow: float, drop: float, lift: float, diameter: float) -> float:
        return discharge_coefficient(mass_flow, drop, lift, diameter, count, air)

    return with_band(
        cd,
        mass_flow=Reading.within_share(point.mass_flow, FLOW_SHARE),
        drop=Reading.within_share(drop, DROP_SHARE),
        lift=Reading.within(point.lift, min(LIFT_DOUBT, 0.5 * point.lift)),
        diameter=Reading.within(diameter, DIAMETER_DOUBT),
    )


def _liquid_share(drop: float, air: tuple[float, float]) -> float:
    """Coefficient by the liquid form over that by the gas form: the expansion of the air. [-]"""
    pressure, temperature = air
    density = pressure / (GAS_CONSTANT * temperature)
    gas = restriction_mass_flow(1.0, pressure, temperature, pressure - drop, GAMMA, GAS_CONSTANT)
    return gas / math.sqrt(2.0 * density * drop)


def _refuse_what_no_valve_flows(factor: float) -> None:
    if not LEAST <= factor <= MOST:
        raise InputError(
            f"this valve would flow {factor:.2f} of a usual one; a sheet takes {LEAST:g} to {MOST:g}",
            hint="check the units, the pressure drop, the number of valves, and that lifts are at the valve",
        )


def _sentence(valve: str, points: Sequence[Point], coefficients: Sequence[Reading], factor: float, doubt: float) -> str:
    first = coefficients[0]
    lowest, highest = min(c.value for c in coefficients), max(c.value for c in coefficients)
    if len(points) == 1:
        cd = f"{first.value:.3f}, {first.low:.3f} to {first.high:.3f}, at {show(points[0].lift, 'length')} lift"
    else:
        cd = f"{lowest:.3f} to {highest:.3f} over {len(points)} lifts"
    return f"{valve} valve: Cd {cd}; flows {factor:.3g} of the model's usual valve, within {doubt:.0%}"


def _cautions(points: Sequence[Point], diameter: float, shares: Sequence[float]) -> tuple[str, ...]:
    said = []
    if len(points) == 1:
        said.append("one lift says little about the others; give --lift and --flow again for each reading")
    if max(shares) - min(shares) > 0.15:
        said.append("the lifts disagree by more than the usual valve's own band; the mean is on the sheet")
    if all(p.lift < 0.1 * diameter for p in points):
        said.append("all lifts are low; what the port takes away shows only above a quarter of the diameter")
    return tuple(said)
