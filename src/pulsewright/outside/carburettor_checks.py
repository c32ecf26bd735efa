"""Carburettor: textbook example, the uncorrected jet, jets against air density."""

from __future__ import annotations

import math
from collections.abc import Iterator

from pulsewright.outside.check import Check, worst
from pulsewright.outside.tables import table
from pulsewright.physics.jet_flow import jet_mass_flow, rejet_diameter_ratio
from pulsewright.physics.standard_atmosphere import pressure_at, temperature_at
from pulsewright.physics.venturi_depression import venturi_air_flow, venturi_depression

TEXTBOOK = "Mathur & Sharma, Internal Combustion Engine, example 11.1 (worked solution)"
CURVE = "isentropic nozzle and Bernoulli jet, evaluated apart"
GAMMA, R = 1.4, 287.05
VENTURI = 0.85 * math.pi / 4 * 0.030**2  # [m2] of simple_carburettor_curve.csv
JET = math.pi / 4 * 0.0013**2  # [m2]
JET_CD, FUEL_DENSITY, LIP = 0.75, 745.0, 0.008  # [-], [kg/m3], [m]
GRAVITY = 9.80665


def checks() -> Iterator[Check]:
    """Sizes from the textbook, then the whole curve, then altitude."""
    yield from _textbook()
    yield from _curve()
    yield worst(
        "jet diameter for the same mixture at altitude",
        "closed form, air of ICAO Doc 7488",
        (
            (
                f"{r['altitude_m']:g} m, {r['t_C']:g} degC",
                r["jet_diameter_ratio_for_const_AFR=sigma^0.25"],
                rejet_diameter_ratio(pressure_at(r["altitude_m"]) / (287.05287 * (r["t_C"] + 273.15)) / 1.225),
            )
            for r in table("density_rejet")
        ),
        1e-5,
    )
    for column, function in (("T_K", temperature_at), ("p_Pa", pressure_at)):
        yield worst(
            f"standard atmosphere, {column}",
            "ICAO Doc 7488 by ambiance 1.3.1",
            ((f"{r['geopotential_m']:g} m", r[column], function(r["geopotential_m"])) for r in table("isa")),
            1e-5,
        )


def _textbook() -> Iterator[Check]:
    row = table("carburettor_examples")[0]
    # The example's velocity coefficient sits on the speed: ideal air at 1/Cv of the flow per area.
    ideal = row["mdot_air_kg_s"] / row["Cv_air"]
    throat = _throat_diameter(row, ideal)
    yield Check(what="venturi throat in mm", source=TEXTBOOK, expected=row["d_throat_mm"], got=throat, tolerance=0.003)
    yield Check(what="venturi throat, printed 3.25 cm", source=TEXTBOOK, expected=32.5, got=throat, tolerance=0.003)
    depression = row["p1_Pa"] - row["p2_Pa"]
    jet = row["mdot_fuel_kg_s"] / jet_mass_flow(row["Cd_jet"], 1.0, row["rho_fuel"], row["dp_fraction"] * depression)
    yield Check(
        what="main jet in mm",
        source="worked example, recomputed apart",
        expected=row["d_jet_mm"],
        got=1e3 * math.sqrt(4.0 * jet / math.pi),
        tolerance=0.003,
    )


def _throat_diameter(row: dict, ideal_flow: float) -> float:
    """Throat that meets the example's depression at this flow, by halving the bracket. [mm]"""
    wanted = row["p1_Pa"] - row["p2_Pa"]
    low, high = 0.020, 0.060
    for _ in range(60):
        middle = 0.5 * (low + high)
        area = math.pi / 4 * middle**2
        if venturi_depression(ideal_flow, area, row["p1_Pa"], row["T1_K"], GAMMA, 287.0) > wanted:
            low = middle
        else:
            high = middle
    return 1e3 * low


def _curve() -> Iterator[Check]:
    rows = table("simple_carburettor_curve")
    state = (VENTURI, 101325.0, 298.15)
    air = [venturi_air_flow(*state, r["depression_Pa"], GAMMA, R) for r in rows]
    head = FUEL_DENSITY * GRAVITY * LIP
    fuel = [jet_mass_flow(JET_CD, JET, FUEL_DENSITY, r["depression_Pa"] - head) for r in rows]
    names = [f"{r['depression_Pa']:g} Pa" for r in rows]
    yield worst(
        "air through a 30 mm venturi",
        CURVE,
        ((n, r["mdot_air_kg_s"], a) for n, r, a in zip(names, rows, air, strict=True)),
        1e-6,
    )
    yield worst(
        "fuel through a 1.30 mm jet",
        CURVE,
        ((n, r["mdot_fuel_kg_s"], f) for n, r, f in zip(names, rows, fuel, strict=True)),
        1e-6,
    )
    yield worst(
        "air-fuel ratio of the uncorrected jet",
        CURVE,
        ((n, r["AFR"], a / f) for n, r, a, f in zip(names, rows, air, fuel, strict=True)),
        1e-6,
    )
    back = [venturi_depression(r["mdot_air_kg_s"], *state, GAMMA, R) for r in rows]
    yield worst(
        "depression from the air flow",
        CURVE,
        ((n, r["depression_Pa"], b) for n, r, b in zip(names, rows, back, strict=True)),
        1e-6,
    )
    yield Check(
        what="air flow over the incompressible form at 10 kPa",
        source=CURVE,
        expected=rows[-1]["compressibility_factor"],
        got=air[-1] / (VENTURI * math.sqrt(2.0 * 101325.0 / (R * 298.15) * 10e3)),
        tolerance=1e-6,
    )
