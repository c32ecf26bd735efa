"""Relations of the engine: crank drive, burn, heat, friction, flame, knock, valves, mixture."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

from pulsewright.outside.check import Check, worst
from pulsewright.outside.tables import table
from pulsewright.physics import cylinder_heat, engine_friction, flame_speed, knock_delay, tuning_rules
from pulsewright.physics.power_versus_mixture import torque_of_mixture
from pulsewright.physics.slider_crank import (
    mean_piston_speed,
    piston_travel,
    swept_volume,
    travel_per_degree,
)
from pulsewright.physics.valve_flow import exhaust_area, inlet_area
from pulsewright.physics.wiebe import burned_fraction

BORE, STROKE, ROD = 0.090, 0.080, 0.140  # [m] of slider_crank.csv
ATMOSPHERE = 101325.0  # [Pa]
FLAMES: dict[str, tuple[float, float, float]] = {
    "iso-octane": flame_speed.ISO_OCTANE,
    "indolene RMFD303": flame_speed.INDOLENE,
    "propane": flame_speed.PROPANE,
    "methanol": flame_speed.METHANOL,
}


def checks() -> Iterator[Check]:
    """All engine tables."""
    yield from _crank()
    yield from _burn()
    yield from _examples()
    yield from _valves()
    yield worst(
        "torque against mixture, loss in per cent",
        "Stone, Introduction to Internal Combustion Engines (fit of a curve, second hand)",
        (
            (f"lambda {r['lambda']:g}", r["torque_loss_percent"], 100 * (1 - torque_of_mixture(r["lambda"])))
            for r in table("mixture_curve")
        ),
        0.05,
        "absolute",
    )


def _crank() -> Iterator[Check]:
    rows = table("slider_crank")
    source = "kinematics, bore 90, stroke 80, rod 140 mm"
    yield worst(
        "piston travel in metres",
        source,
        (
            (
                f"{r['deg_after_TDC']:g} degrees",
                r["piston_travel_m"],
                piston_travel(r["deg_after_TDC"], STROKE, ROD),
            )
            for r in rows
        ),
        1e-9,
        "absolute",
    )
    yield worst(
        "piston speed over its mean",
        source,
        (
            (
                f"{r['deg_after_TDC']:g} degrees",
                r["piston_speed_over_mean_piston_speed"],
                travel_per_degree(r["deg_after_TDC"], STROKE, ROD) * 180.0 / STROKE,
            )
            for r in rows
        ),
        1e-6,
        "absolute",
    )
    full = max(r["swept_volume_m3"] for r in rows)
    yield Check(
        what="displacement in cubic metres",
        source=source,
        expected=full,
        got=swept_volume(BORE, STROKE),
        tolerance=1e-7,
    )


def _burn() -> Iterator[Check]:
    yield worst(
        "burned fraction",
        "Wiebe 1970",
        (
            (
                f"a {r['a']:g}, m {r['m']:g}, x {x:g}",
                r["burned_fraction"],
                burned_fraction(60.0 * x, 0.0, 60.0, r["a"], r["m"]),
            )
            for r in table("wiebe")
            for x in [r["(theta-theta0)/dtheta"]]
        ),
        1e-6,
    )
    yield worst(
        "laminar burning velocity in cm/s",
        "Metghalchi & Keck 1982; Rhodes & Keck 1985 (coefficients from memory)",
        (
            (f"{r['fuel']}, lambda {r['lambda']:g}, {r['Tu_K']:g} K", r["SL_cm_s"], _flame(r))
            for r in table("laminar_flame_speed")
        ),
        1e-5,
    )
    yield worst(
        "delay to self-ignition in ms",
        "Douaud & Eyzat, SAE 780080 (constants from memory)",
        (
            (
                f"octane {r['octane_number']:g}, {r['p_atm']:g} atm, {r['Tu_K']:g} K",
                r["tau_ms"],
                1e3 * knock_delay.autoignition_delay(r["octane_number"], r["p_atm"] * ATMOSPHERE, r["Tu_K"]),
            )
            for r in table("autoignition_delay")
        ),
        1e-5,
    )


def _flame(row: dict) -> float:
    phi, pressure = 1.0 / row["lambda"], row["p_atm"] * ATMOSPHERE
    state = (phi, row["Tu_K"], pressure, row["diluent_fraction"])
    if row["fuel"] in FLAMES:
        return 100.0 * flame_speed.metghalchi_keck(*FLAMES[row["fuel"]], *state)
    return 100.0 * flame_speed.gasoline_flame_speed(*state)


# First words of the relation in engine_examples.csv, and its inputs where one relation has two rows.
EXAMPLES: dict[tuple[str, str], Callable[[], float]] = {
    ("Woschni h", ""): lambda: cylinder_heat.woschni(0.090, 3.0e6, 2000.0, 20.0),
    ("Woschni w", ""): lambda: cylinder_heat.woschni_speed(
        cylinder_heat.C1_CLOSED, mean_piston_speed(0.080, 6000.0), 5e-4, 5.5e-4, 350.0, 1e5, 0.0
    ),
    ("Annand conv", ""): lambda: cylinder_heat.annand_convection(0.5, 10.0, 16.0, 0.090, 6.0e-5, 0.115),
    ("Annand rad", ""): lambda: cylinder_heat.annand_radiation(2000.0, 450.0),
    ("Hohenberg", ""): lambda: cylinder_heat.hohenberg(1e-4, 30e5, 2000.0, 16.0),
    ("Chen-Flynn", ""): lambda: engine_friction.chen_flynn(65e5, 16.0) * 1e-5,
    ("Barnes-Moss", ""): lambda: engine_friction.barnes_moss(6000.0) * 1e-5,
    ("Inlet Mach", ""): lambda: tuning_rules.inlet_mach_index(0.090, 0.036 * math.sqrt(2.0), 16.0, 0.35, 345.0),
    ("Fox-Cheng", ""): lambda: tuning_rules.residual_estimate(0.6, 2000.0, 0.6e5, 1.03e5, 1.0, 10.0),
    ("exhaust primary", ""): lambda: tuning_rules.primary_length_rule(250.0, 7000.0) / 0.0254,
    ("wave round", "N=2000"): lambda: tuning_rules.round_trip_length(330.0, 85.0, 2000.0),
    ("wave round", "N=4000"): lambda: tuning_rules.round_trip_length(330.0, 85.0, 4000.0),
    ("intake Helm", ""): lambda: tuning_rules.intake_helmholtz_rpm(1.2e-3, 0.35, 0.5e-3, 10.0, 345.0),
    ("quarter-wave", ""): lambda: tuning_rules.quarter_wave_order(345.0, 0.35, 6000.0),
    ("mean piston", ""): lambda: mean_piston_speed(0.080, 6000.0),
    ("knock integral", ""): lambda: 1e3 * knock_delay.autoignition_delay(91.0, 40.0 * ATMOSPHERE, 850.0),
}


def _examples() -> Iterator[Check]:
    for (relation, inputs), compute in EXAMPLES.items():
        row = next(r for r in table("engine_examples") if r["relation"].startswith(relation) and inputs in r["inputs"])
        yield Check(
            what=f"{row['relation']} at {row['inputs']}, {row['unit']}",
            source="the relation's paper, constants from memory; evaluated apart",
            expected=row["value"],
            got=compute(),
            tolerance=1e-6,
        )


def _valves() -> Iterator[Check]:
    source = "Annand & Roe 1974, Heywood 1988 ch. 6 (bands from memory)"
    for side, area in (("inlet", inlet_area), ("exhaust", exhaust_area)):
        rows = [
            (f"L/D {r['lift_over_diameter']:g}", 0.5 * (r[f"{side}_low"] + r[f"{side}_high"]), got)
            for r in table("valve_coefficients")
            for lift in [r["lift_over_diameter"]]
            for got in [area(lift, 1.0, 1.0) / (math.pi * lift)]
        ]
        yield worst(f"discharge of the {side} valve, middle of the band", source, rows, 0.01)
        yield Check(
            what=f"the throat holds the {side} valve: area at L/D 0.5 over that at 0.3",
            source="curtain = head area at L/D 0.25, closed form",
            expected=1.0,
            got=area(0.5, 1.0, 1.0) / area(0.3, 1.0, 1.0),
            tolerance=1e-12,
        )
