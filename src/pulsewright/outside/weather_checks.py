"""Moist air and the factors that carry torque to standard weather."""

from __future__ import annotations

from collections.abc import Iterator

from pulsewright.outside.check import Check, worst
from pulsewright.outside.tables import table
from pulsewright.physics import humid_air
from pulsewright.physics.weather_correction import (
    FACTORS,
    brake_factor,
    correction,
    iso1585,
    j1349_indicated,
)

COLUMNS = {
    "J1349": ("J1349_cf_ME85", "SAE J1349, formula from secondary pages"),
    "ISO1585": ("ISO1585_R85_alpha", "ISO 1585, UNECE R85, formula from memory"),
    "STD": ("STD_60F_29.92inHg", "SAE J607 style, secondary pages"),
    "DIN70020": ("DIN70020", "DIN 70020, secondary page"),
}


def checks() -> Iterator[Check]:
    """Vapour, density, then every correction in eight kinds of weather."""
    yield from _moist_air()
    for standard in FACTORS:
        column, source = COLUMNS[standard]
        rows = [(_weather(r), r[column], _factor(standard, r)) for r in table("dyno_correction")]
        yield worst(f"factor {standard}", source, rows, 2e-4, "absolute")
    yield worst(
        "factor for another mechanical efficiency",
        "SAE J1349, general form",
        (
            (
                f"efficiency {me:g}, ca {ca:g}",
                r["brake_factor=(ca-(1-me))/me"],
                brake_factor(ca, me),
            )
            for r in table("dyno_mech_efficiency")
            for me, ca in [(r["mechanical_efficiency"], r["ca_indicated"])]
        ),
        1e-6,
    )
    yield worst(
        "ISO factor = indicated J1349 factor to the power 1.2",
        "identity, closed form",
        (
            (f"{t:g} K, {p:g} Pa", j1349_indicated(t, p) ** 1.2, iso1585(t, p))
            for t, p in ((280.0, 101e3), (300.0, 97e3), (315.0, 88e3))
        ),
        1e-12,
    )


def _moist_air() -> Iterator[Check]:
    rows = [(r, r["t_C"] + 273.15, r["p_Pa"], r["rh"]) for r in table("humid_air")]
    yield worst(
        "saturation pressure in Pa",
        "PsychroLib 2.5.0 (ASHRAE Fundamentals 2017)",
        ((f"{r['t_C']:g} degC", r["psat_psychrolib_Pa"], humid_air.saturation_pressure(t)) for r, t, _, _ in rows),
        1e-5,
    )
    for column, source in (
        ("rho_psychrolib", "PsychroLib 2.5.0"),
        ("rho_coolprop", "CoolProp 8.0.0"),
        ("rho_cipm2007", "CIPM-2007, Metrologia 45 (2008) 149"),
    ):
        yield worst(
            "density of moist air",
            source,
            ((_weather(r), r[column], humid_air.density(t, p, rh)) for r, t, p, rh in rows),
            1e-3,
        )
    yield worst(
        "water in the air, kg a kg",
        "CoolProp 8.0.0",
        ((_weather(r), r["w_coolprop"], humid_air.humidity_ratio(t, p, rh)) for r, t, p, rh in rows if rh > 0.0),
        0.01,
    )


def _weather(row: dict) -> str:
    pressure = row.get("p_Pa", row.get("p_baro_Pa", 0.0))
    return f"{row['t_C']:g} degC, {row['rh']:.0%}, {pressure / 1e3:g} kPa"


def _factor(standard: str, row: dict) -> float:
    return correction(standard, row["t_C"] + 273.15, row["p_baro_Pa"], row["p_vapour_Pa"])
