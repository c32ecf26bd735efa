"""Estimates for what a sheet does not know: a textbook jet, closed forms, a table of restriction flow."""

from __future__ import annotations

import math
from collections.abc import Iterator

from pulsewright.bench.jets import STANDARD_GRAVITY
from pulsewright.new.cam_from_lift_table import cam_from_lift_table
from pulsewright.new.estimate import Reading, with_band
from pulsewright.new.jet_from_flow import jet_from_flow
from pulsewright.new.port_from_fluid import port_from_fluid
from pulsewright.new.valve_from_flow_bench import discharge_coefficient
from pulsewright.outside.check import Check, worst
from pulsewright.outside.tables import table

AIR = (101325.0, 293.15)  # [Pa], [K] of the table
OPENS, CLOSES, LIFT = 320.0, 600.0, 10.8e-3  # [deg], [deg], [m] of a cam that is a squared sine


def checks() -> Iterator[Check]:
    """Each estimate, then how bands are put together."""
    row = table("carburettor_examples")[0]
    head = row["dp_jet_Pa"] / (row["rho_fuel"] * STANDARD_GRAVITY)
    jet = jet_from_flow(row["mdot_fuel_kg_s"] / row["rho_fuel"], head=head, cd=row["Cd_jet"])
    yield Check(
        what="bore of a jet from its flow, mm",
        source="worked solution to a textbook example (an IC-engine text, ch. 9), recomputed apart",
        expected=row["d_jet_mm"],
        got=1e3 * jet.lines[0].reading.value,  # type: ignore[union-attr]
        tolerance=1e-5,
    )
    yield Check(
        what="length of a port of 40 mm bore that holds 95 ml, mm",
        source="volume of a straight tube: 95000 / (400 pi), worked apart",
        expected=75.5986,
        got=1e3 * port_from_fluid(95e-6, bore=0.040).lines[0].reading.value,  # type: ignore[union-attr]
        tolerance=1e-5,
    )
    yield from _cam()
    yield from _valve()
    yield _band()


def squared_sine(step_deg: float) -> list[tuple[float, float]]:
    """Lift table of a cam in closed form. Rows of [deg], [m]"""
    count = round((CLOSES - OPENS) / step_deg)
    return [(OPENS + k * step_deg, LIFT * math.sin(math.pi * k / count) ** 2) for k in range(count + 1)]


def squared_sine_timing(check_lift: float) -> tuple[float, float]:
    """Where that cam passes a lift, exactly. [deg]"""
    part = math.asin(math.sqrt(check_lift / LIFT)) / math.pi * (CLOSES - OPENS)
    return OPENS + part, CLOSES - part


def _cam() -> Iterator[Check]:
    for step in (2.0, 10.0):
        estimate = cam_from_lift_table(squared_sine(step), valve="intake", check_lift=1e-3)
        found = [line.reading.value for line in estimate.lines[:2] if line.reading]
        rows = list(zip(("opens", "closes"), squared_sine_timing(1e-3), found, strict=True))
        yield worst(
            f"timing at 1 mm from a table every {step:g} deg, deg, to the remainder of a straight line",
            "squared-sine cam, closed form; Newton's remainder of linear interpolation",
            rows,
            _remainder(step),
            "absolute",
        )


def _remainder(step_deg: float) -> float:
    """Largest error of linear interpolation over the slope at 1 mm, for the cam in closed form. [deg]"""
    rate = math.pi / (CLOSES - OPENS)
    x = math.asin(math.sqrt(1e-3 / LIFT))
    bend = 2.0 * LIFT * rate**2  # the largest second derivative there is
    return step_deg**2 / 8.0 * bend / (LIFT * rate * math.sin(2.0 * x)) * 1.2  # the slope falls inside the step


def _valve() -> Iterator[Check]:
    rows = [r for r in table("restriction_flow") if r["gamma"] == 1.4 and r["T0_K"] == AIR[1] and r["p0_Pa"] == AIR[0]]
    area = math.pi * 0.046 * 0.009
    yield worst(
        "discharge coefficient of a perfect opening",
        "flow per area of Saint-Venant and Wantzel, evaluated apart",
        (
            (
                f"p2/p1 {r['p_down/p0']:g}",
                1.0,
                discharge_coefficient(
                    area * r["mdot_per_CdA_kg_s_m2"], (1.0 - r["p_down/p0"]) * AIR[0], 0.009, 0.046, 1, AIR
                ),
            )
            for r in rows
        ),
        1e-6,
    )
    drop = 0.01 * AIR[0]
    ideal = math.sqrt(2.0 * AIR[0] / (287.05 * AIR[1]) * drop)
    yield Check(
        what="expansion of the air at 1 % pressure drop: Cd by gas over Cd by liquid",
        source="series of the isentropic flow function, 1 / (1 - 3 dp / (4 gamma p)), closed form",
        expected=1.0 / (1.0 - 3.0 * 0.01 / (4.0 * 1.4)),
        got=discharge_coefficient(area * ideal, drop, 0.009, 0.046, 1, AIR),
        tolerance=1e-4,
    )


def _band() -> Check:
    """A product of powers: shares add as root of squares with the exponents."""
    band = with_band(
        lambda v, c, h: (v / c) ** 0.5 / h**0.25,
        v=Reading.within_share(3.0, 1e-3),
        c=Reading.within_share(0.8, 2e-3),
        h=Reading.within_share(0.5, 4e-3),
    )
    return Check(
        what="half-width of a jet's bore from those of flow, coefficient and head",
        source="JCGM 100:2008 (GUM), 5.1.6: products of powers, closed form",
        expected=math.sqrt((0.5e-3) ** 2 + (1.0e-3) ** 2 + (1.0e-3) ** 2),
        got=(band.high - band.low) / (2.0 * band.value),
        tolerance=1e-3,
    )
